import { type Clock, sessionSecOf, takeSecOf } from '../signal/clock.ts';
import type { ClipPicture } from './clip-picture.ts';
import { type PictureRate, perSecond } from './picture-rate.ts';

/** Where a clip lies on the session's time line; see core/session. */
export type Place = Clock;

/** FFmpeg's time stamps in the graph count millionths of a second, whatever the container's own step is. */
export const GRAPH_TICKS_PER_SEC = 1_000_000;

/**
 * FFmpeg's expression for the output time stamp of a clip's picture: container stamps in, in GRAPH_TICKS; output time
 * zero is session time `fromSec`. The half tick turns its truncation to rounding.
 */
export function stampExpression(picture: ClipPicture, place: Place, fromSec: number): string {
  const slope = 1 / (1 + place.driftPpm * 1e-6);
  const shift = (place.offsetSec - fromSec - picture.zeroSec * slope) * GRAPH_TICKS_PER_SEC + 0.5;
  const scaled = slope === 1 ? 'PTS' : `PTS*${slope.toFixed(12)}`;
  return `${scaled}${shift < 0 ? '-' : '+'}${Math.abs(shift).toFixed(3)}`;
}

/** Clips are entered so long before the wanted moment, s: whatever is decoded too much is dropped. */
const SEEK_EARLY_SEC = 1;
/** Below this, reading from the beginning costs less than it risks, s. */
const SEEK_WORTH_SEC = 4;

/** Container time at which to enter a clip, s; undefined to read it from its beginning. */
export function seekSec(picture: ClipPicture, place: Place, fromSec: number): number | undefined {
  const wanted = takeSecOf(place, fromSec) - SEEK_EARLY_SEC;
  if (!picture.canSeek || wanted - picture.startSec < SEEK_WORTH_SEC) return undefined;
  return wanted + picture.zeroSec;
}

/** A clip with its place, for choosing the canvas's phase. */
export interface PlacedPicture {
  readonly picture: Pick<ClipPicture, 'rate' | 'isUneven' | 'startSec'>;
  readonly place: Place;
}

/** Phases tried within one picture. */
const PHASES = 240;
/** A clip whose pictures fall this near to the middle between two of the canvas flips from one to the other, pictures. */
const TIE = 0.02;

/**
 * Shifts the beginning of the video later by less than a picture, so that the pictures of the clips fall as near to the
 * canvas's as they can: their greatest distance is made least. Clips whose pictures slide along the canvas's (uneven or
 * unrelated rates) cannot be helped and have no say. In: session time, s. Out: session time, s, at or after `fromSec`.
 */
export function bestPhase(fromSec: number, toSec: number, rate: PictureRate, clips: readonly PlacedPicture[]): number {
  const steady = clips.filter((clip) => isSteady(clip.picture, rate));
  if (steady.length === 0) return fromSec;
  const step = 1 / perSecond(rate) / PHASES;
  let best = fromSec;
  let least = Number.POSITIVE_INFINITY;
  for (let phase = 0; phase < PHASES; phase++) {
    const at = fromSec + phase * step;
    const worst = Math.max(...steady.map((clip) => offOf(clip, at, (at + toSec) / 2, rate)));
    if (worst < least - 1e-6) {
      least = worst;
      best = at;
    }
  }
  return best;
}

/** True where a clip's pictures keep their distance to those of the canvas. */
export function isSteady({ rate, isUneven }: PlacedPicture['picture'], canvas: PictureRate): boolean {
  if (isUneven || rate <= 0) return false;
  const ratio = rate / perSecond(canvas);
  const whole = ratio >= 1 ? ratio : 1 / ratio;
  return Math.abs(whole - Math.round(whole)) < 5e-4;
}

/** Greatest distance of a clip's pictures around a moment to the nearest of the canvas, in pictures of the canvas. */
function offOf({ picture, place }: PlacedPicture, fromSec: number, aroundSec: number, rate: PictureRate): number {
  const spacing = perSecond(rate) / picture.rate;
  const first = Math.round((takeSecOf(place, aroundSec) - picture.startSec) * picture.rate);
  const shown = (sessionSecOf(place, picture.startSec + first / picture.rate) - fromSec) * perSecond(rate);
  const several = spacing >= 1 ? 1 : Math.round(1 / spacing);
  let worst = 0;
  for (let n = 0; n < several; n++) {
    const at = shown + n * spacing;
    const off = Math.abs(at - Math.round(at));
    worst = Math.max(worst, off > 0.5 - TIE ? 1 : off);
  }
  return worst;
}

/**
 * Greatest distance between a clip's sound and its picture in the video, s: what rounding to pictures of the canvas
 * costs. Half a picture where the rates slide.
 */
export function worstOffsetSec(
  clip: PlacedPicture,
  span: { readonly fromSec: number; readonly toSec: number },
  rate: PictureRate,
): number {
  const pictureLength = 1 / perSecond(rate);
  if (!isSteady(clip.picture, rate)) return pictureLength / 2;
  const { fromSec, toSec } = span;
  const offs = [fromSec, (fromSec + toSec) / 2, toSec].map((at) => Math.min(0.5, offOf(clip, fromSec, at, rate)));
  return Math.max(...offs) * pictureLength;
}
