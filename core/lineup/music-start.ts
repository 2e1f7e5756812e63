import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';
import { type Levels, TICK_SEC } from './trace.ts';

const WINDOW_SEC = 0.25;
const AHEAD = 16;
const ENOUGH = 9;

/**
 * About when a take's music begins, s: from where on most of the next 4 s are louder than half way (in dB) between the
 * take's quiet and its usual level. A level is the median of a quarter second, so that knocks and claps do not count.
 * Undefined for a take that has no such place.
 */
export function musicStart({ energy }: Levels): number | undefined {
  const size = Math.round(WINDOW_SEC / TICK_SEC);
  const count = Math.floor(energy.length / size);
  if (count < AHEAD) return undefined;
  const levels = middlesOf(energy, size, count);
  for (let i = 0; i < count; i++) levels[i] = Math.log(levels[i]! + 1e-12);
  const sorted = levels.slice().sort();
  const bar = 0.5 * (sorted[Math.floor(0.05 * count)]! + sorted[Math.floor(0.7 * count)]!);
  for (let i = 0; i < count; i++) {
    if (levels[i]! <= bar) continue;
    let loud = 0;
    for (let k = i; k < Math.min(count, i + AHEAD); k++) if (levels[k]! > bar) loud++;
    if (loud >= ENOUGH) return i * WINDOW_SEC;
  }
  return undefined;
}

/** The middle ones of `count` windows of `size` numbers. kernel: null for plain TypeScript, which gives the same. */
export function middlesOf(
  energy: Float32Array,
  size: number,
  count: number,
  kernel: BleedKernel | null = bleedKernel(),
): Float64Array {
  const middles = new Float64Array(count);
  if (kernel === null) {
    for (let i = 0; i < count; i++) middles[i] = energy.slice(i * size, (i + 1) * size).sort()[size >> 1]!;
    return middles;
  }
  const [raw, found] = [kernel.room('raw', 4 * size * count), kernel.room('line', 8 * count)];
  kernel.floats(raw, size * count).set(energy.subarray(0, size * count));
  kernel.run.setMiddles(raw, size, count, found);
  middles.set(kernel.doubles(found, count));
  return middles;
}
