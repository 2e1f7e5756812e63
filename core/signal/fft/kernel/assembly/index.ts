/** The transform with memory of its own: an instance serves one size. */

import { planAt } from './transform';

export { forward, inverse, samplesAt, spectrumAt, splitsAt, twiddlesAt } from './transform';

/** Lays the memory out for a size; gives the address behind the last byte needed. Grows the memory; 0 when there is none. */
export function plan(size: i32): usize {
  const end = planAt((__heap_base + 63) & ~63, size);
  const missing = <i32>((end + 0xffff) >> 16) - memory.size();
  return missing > 0 && memory.grow(missing) < 0 ? 0 : end;
}
