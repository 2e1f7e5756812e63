import { type Clock, sessionSecOf } from '../signal/clock.ts';
import { MOST_TRAIL_POINTS, type TrailPoint } from './witness.ts';

/** Points farther from the clock than this many standard deviations are shown as not going along with it. */
const APART = 3;

/** Points in order of time, at most MOST_TRAIL_POINTS, each marked by whether it goes along with the clock; s to 1e-6. */
export function trailOf(points: readonly TrailPoint[], clock: Clock): TrailPoint[] {
  const sorted = [...points].sort((a, b) => a.atSec - b.atSec);
  const step = Math.max(1, sorted.length / MOST_TRAIL_POINTS);
  const count = Math.min(sorted.length, MOST_TRAIL_POINTS);
  return Array.from({ length: count }, (_, n) => {
    const { kind, atSec, takeSec, uncertaintySec, accepted } = sorted[Math.floor(n * step)]!;
    const apart = Math.abs(atSec - sessionSecOf(clock, takeSec));
    return {
      kind,
      atSec: rounded(atSec),
      takeSec: rounded(takeSec),
      uncertaintySec: rounded(uncertaintySec),
      accepted: accepted && apart <= APART * uncertaintySec,
    };
  });
}

function rounded(sec: number): number {
  return Math.round(sec * 1e6) / 1e6;
}
