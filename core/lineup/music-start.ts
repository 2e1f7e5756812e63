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
  const window = new Float32Array(size);
  const levels = Float64Array.from({ length: count }, (_, i) => {
    window.set(energy.subarray(i * size, (i + 1) * size));
    window.sort();
    return Math.log(window[size >> 1]! + 1e-12);
  });
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
