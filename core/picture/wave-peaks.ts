import { takeSecOf } from '../signal/clock.ts';
import type { SessionSpan } from './picture-design.ts';
import type { Place } from './picture-time.ts';

/** Full scale of a waveform's numbers. */
const FULL_SCALE = 32767;

/**
 * Highest magnitudes, 0 to 1, of `count` stretches of equal length of a session's span, for drawing a voice. pairs: lowest
 * and highest sample (full scale 32767) of stretches of `pairSec` of the clip's own time, from its beginning.
 */
export function wavePeaks(
  pairs: Int16Array,
  pairSec: number,
  place: Place,
  span: SessionSpan,
  count: number,
): number[] {
  const stepSec = (span.toSec - span.fromSec) / count;
  const last = pairs.length / 2 - 1;
  return Array.from({ length: count }, (_, index) => {
    const from = Math.floor(takeSecOf(place, span.fromSec + index * stepSec) / pairSec);
    const to = Math.ceil(takeSecOf(place, span.fromSec + (index + 1) * stepSec) / pairSec) - 1;
    let most = 0;
    for (let n = Math.max(0, from); n <= Math.min(last, Math.max(from, to)); n++) {
      most = Math.max(most, -pairs[2 * n]!, pairs[2 * n + 1]!);
    }
    return Math.min(1, most / FULL_SCALE);
  });
}
