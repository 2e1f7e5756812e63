import type { BleedKernel } from './bleed/kernel/bleed-kernel.ts';
import type { Rises } from './trace.ts';

/** Rises in the kernel's memory: addresses of their rows, and of a row as long as the first to write in. */
export interface LaidRises {
  readonly frames: number;
  readonly from: number;
  readonly next: number;
  readonly by: number;
  readonly line: number;
}

/** Lays rises into a room, where they stay until others are laid there. */
export function layRises(
  kernel: BleedKernel,
  room: 'risesOfOne' | 'risesOfOther',
  { frames, riseFrom, riseLine, riseBy }: Rises,
): LaidRises {
  const entries = riseFrom[frames]!;
  const from = kernel.room(room, 8 * (frames + 1) + 5 * entries);
  const next = from + 4 * (frames + 1);
  const by = next + 4 * (frames + 1);
  const line = by + 4 * entries;
  kernel.whole(from, frames + 1).set(riseFrom.subarray(0, frames + 1));
  kernel.floats(by, entries).set(riseBy.subarray(0, entries));
  kernel.bytes(line, entries).set(riseLine.subarray(0, entries));
  return { frames, from, next, by, line };
}
