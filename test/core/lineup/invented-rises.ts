import { FRAME_SEC, type Rises } from '../../../core/lineup/trace.ts';
import { Random } from '../../../core/signal/random.ts';

/** A note begins in some frames, on some lines; `later` frames of nothing first. */
export function inventedRises(seed: number, frames: number, later = 0): Rises {
  const random = new Random(seed);
  const riseFrom = new Uint32Array(frames + 1);
  const lines: number[] = [];
  const sizes: number[] = [];
  for (let frame = 0; frame < frames; frame++) {
    riseFrom[frame] = lines.length;
    if (frame >= later && random.uniform() < 0.08) {
      const line = 20 + Math.floor(20 * random.uniform());
      for (let n = 1; n <= 4; n++) {
        lines.push(n * line);
        sizes.push(0.5 + random.uniform());
      }
    }
  }
  riseFrom[frames] = lines.length;
  const riseBy = Float32Array.from(sizes);
  return {
    lengthSec: frames * FRAME_SEC,
    frames,
    riseFrom,
    riseLine: Uint8Array.from(lines, (n) => Math.min(159, n)),
    riseBy,
  };
}
