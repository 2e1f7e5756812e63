import { LagSearch } from './lag-search.ts';
import { FRAME_SEC, type Rises } from './trace.ts';

/** So much of each beginning is compared, s: little, for another tempo, and more, for a piece that begins with long notes. */
const LISTEN_SEC = [8, 25] as const;
/** Before the music as it was found: its first note may begin a little earlier. */
const BEFORE_SEC = 0.6;
/** Beginnings lie this near to one another when they are laid upon one another, s. */
const NEAR_SEC = 1.5;
/** How much faster or slower the second time may be. */
const TEMPOS = [1, 0.98, 1.02, 0.96, 1.04, 0.94, 1.06] as const;

/**
 * How far two stretches of a recording begin with the same music, also a little faster or slower: height of the match of
 * their note beginnings, line by line, in standard deviations of what chance gives.
 * Measured on 14 takes (flute to plucked bass): the same music begun again, up to 5 % faster or slower, 16.7 and more;
 * other places of the same take 8.8 (median), and 22 where a theme comes back. On melodies made from seeds: the same, also
 * 3 % slower, 18.5 and more; others 12.3 at most in 8 s, 18 in 4 s.
 */
export function beginAlike(
  rises: Rises,
  one: { readonly fromSec: number; readonly toSec: number },
  other: { readonly fromSec: number; readonly toSec: number },
): number {
  const bothSec = Math.min(one.toSec - one.fromSec, other.toSec - other.fromSec);
  const search = new LagSearch();
  let highest = 0;
  for (const listenSec of LISTEN_SEC) {
    const lengthSec = Math.min(listenSec, bothSec);
    const first = stretchOf(rises, one.fromSec, lengthSec, 1);
    for (const tempo of TEMPOS) {
      const { byLine } = search.peaks(first, stretchOf(rises, other.fromSec, lengthSec, tempo));
      for (const { lagSec, height } of byLine) {
        if (Math.abs(lagSec) < NEAR_SEC) highest = Math.max(highest, height);
      }
    }
    if (bothSec <= listenSec) break;
  }
  return highest;
}

/** Rises of a stretch as a recording of its own, `tempo` times as long. */
function stretchOf(rises: Rises, fromSec: number, lengthSec: number, tempo: number): Rises {
  const from = Math.max(0, Math.round((fromSec - BEFORE_SEC) / FRAME_SEC));
  const to = Math.min(rises.frames, Math.round((fromSec + lengthSec) / FRAME_SEC));
  const frames = Math.max(0, Math.floor((to - from) * tempo));
  const riseFrom = new Uint32Array(frames + 1);
  const first = rises.riseFrom[from] ?? 0;
  for (let n = 0; n <= frames; n++) {
    riseFrom[n] = rises.riseFrom[Math.min(to, from + Math.round(n / tempo))]! - first;
  }
  const last = first + riseFrom[frames]!;
  return {
    lengthSec: frames * FRAME_SEC,
    frames,
    riseFrom,
    riseLine: rises.riseLine.subarray(first, last),
    riseBy: rises.riseBy.subarray(first, last),
  };
}
