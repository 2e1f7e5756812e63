import { type Clock, type ClockPiece, clockPieces, takeSecOf } from '../signal/clock.ts';
import type { ClipPicture } from './clip-picture.ts';
import { type PictureRate, perSecond } from './picture-rate.ts';

/** Where a clip lies on the session's time line; see core/session. */
export type Place = Clock;

/** FFmpeg's time stamps in the graph count millionths of a second, whatever the container's own step is. */
export const GRAPH_TICKS_PER_SEC = 1_000_000;

/**
 * FFmpeg's expression for the output time stamp of a clip's picture: container stamps in, in GRAPH_TICKS; output time
 * zero is session time `fromSec`. The half tick turns its truncation to rounding. Where the clip's clock bends a choice between
 * straight lines, in quotes as a graph wants it; pictures of doubled time that are not shown get the stamp of the first one
 * that is, so that stamps never run back.
 */
export function stampExpression(picture: ClipPicture, place: Place, fromSec: number): string {
  const pieces = clockPieces(place);
  if (pieces.length === 1) return lineExpression(pieces[0]!, picture, fromSec);
  return `'${choiceExpression(pieces, 0, pieces.length, picture, fromSec)}'`;
}

/** The pieces from `from` up to `to`, halved until one is left: nested as little as can be. */
function choiceExpression(
  pieces: readonly ClockPiece[],
  from: number,
  to: number,
  picture: ClipPicture,
  fromSec: number,
): string {
  if (to - from === 1) return heldExpression(pieces, from, picture, fromSec);
  const middle = Math.floor((from + to) / 2);
  const stamp = Math.round((pieces[middle]!.fromTakeSec + picture.zeroSec) * GRAPH_TICKS_PER_SEC);
  const before = choiceExpression(pieces, from, middle, picture, fromSec);
  return `if(lt(PTS,${stamp}),${before},${choiceExpression(pieces, middle, to, picture, fromSec)})`;
}

/** A piece's line, kept within what is heard of it where its neighbours overlap it. */
function heldExpression(pieces: readonly ClockPiece[], n: number, picture: ClipPicture, fromSec: number): string {
  const piece = pieces[n]!;
  const ticks = (sec: number): string => (Math.round((sec - fromSec) * GRAPH_TICKS_PER_SEC) + 0.5).toFixed(1);
  const line = lineExpression(piece, picture, fromSec);
  const isEarly = placeOf(piece, piece.fromTakeSec) < piece.fromSec;
  const isLate = placeOf(piece, piece.toTakeSec) > piece.toSec;
  const low = isEarly ? `max(${line},${ticks(piece.fromSec)})` : line;
  return isLate ? `min(${low},${ticks(piece.toSec)})` : low;
}

function placeOf({ takeSec0, sessionSec0, rate }: ClockPiece, takeSec: number): number {
  return sessionSec0 + (takeSec - takeSec0) / rate;
}

function lineExpression(piece: ClockPiece, picture: ClipPicture, fromSec: number): string {
  const slope = 1 / piece.rate;
  const atZero = placeOf(piece, 0);
  const shift = (atZero - fromSec - picture.zeroSec * slope) * GRAPH_TICKS_PER_SEC + 0.5;
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
/** Rates are told to 0.01; nearer to a multiple of the canvas's they are that multiple. */
const RATE_ROUNDING = 0.0051;

/**
 * Shifts the beginning of the video later by less than a picture, so that the pictures of the clips fall as near to the
 * canvas's as they can: their greatest distance is made least. Clips whose pictures slide along the canvas's (uneven or
 * unrelated rates, clocks that run off by a picture and more) cannot be helped and have no say. In: session time, s. Out:
 * session time, s, at or after `fromSec`.
 */
export function bestPhase(fromSec: number, toSec: number, rate: PictureRate, clips: readonly PlacedPicture[]): number {
  const steady = clips
    .map((clip) => slidesOf(clip, fromSec, toSec, rate))
    .filter((slides) => slides.length > 0 && !runsThrough(slides));
  if (steady.length === 0) return fromSec;
  const step = 1 / PHASES;
  let best = 0;
  let least = Number.POSITIVE_INFINITY;
  for (let phase = 0; phase < PHASES; phase++) {
    const worst = Math.max(...steady.map((slides) => offOf(slides, fromSec * perSecond(rate) + phase * step, true)));
    if (worst < least - 1e-6) {
      least = worst;
      best = phase;
    }
  }
  return fromSec + (best * step) / perSecond(rate);
}

/** True where a clip's pictures keep their distance to those of the canvas, its clock left aside. */
export function isSteady({ rate, isUneven }: PlacedPicture['picture'], canvas: PictureRate): boolean {
  if (isUneven || rate <= 0) return false;
  const ratio = rate / perSecond(canvas);
  const whole = ratio >= 1 ? ratio : 1 / ratio;
  return Math.abs(whole - Math.round(whole)) < 5e-4;
}

/** Where the pictures of an evenly running piece of a clip fall at its beginning and its end, in pictures of the canvas. */
interface Slide {
  readonly from: number;
  readonly to: number;
  /** How many pictures the clip has for one of the canvas. */
  readonly several: number;
}

/** The pieces of a steady clip within a stretch of session time; none for other clips. */
function slidesOf({ picture, place }: PlacedPicture, fromSec: number, toSec: number, canvas: PictureRate): Slide[] {
  if (!isSteady(picture, canvas)) return [];
  const over = perSecond(canvas);
  const several = Math.max(1, Math.round(picture.rate / over));
  const spacing = several > 1 ? 1 / several : Math.round(over / picture.rate);
  const exact = over / spacing;
  const rate = Math.abs(picture.rate - exact) < RATE_ROUNDING ? exact : picture.rate;
  return clockPieces(place).flatMap((piece) => {
    const first = Math.max(fromSec, piece.fromSec);
    const last = Math.min(toSec, piece.toSec);
    if (last < first) return [];
    const takeSec = piece.takeSec0 + (first - piece.sessionSec0) * piece.rate;
    const index = Math.round((takeSec - picture.startSec) * rate);
    const from = placeOf(piece, picture.startSec + index / rate) * over;
    return [{ from, to: from + (last - first) * (over - spacing * rate * piece.rate), several }];
  });
}

function runsThrough(slides: readonly Slide[]): boolean {
  const off = slides.map(({ from }) => from - slides[0]!.from - Math.round(from - slides[0]!.from));
  const ends = slides.flatMap(({ from, to }, n) => [off[n]!, off[n]! + to - from]);
  return Math.max(...ends) - Math.min(...ends) >= 1;
}

/**
 * Greatest distance of a clip's pictures to the nearest of the canvas, whose pictures lie at `phase` and every whole number from
 * there; in pictures of the canvas. Wary: one that comes near to a tie counts as worse than any.
 */
function offOf(slides: readonly Slide[], phase: number, isWary: boolean): number {
  let worst = 0;
  for (const { from, to, several } of slides) {
    for (let n = 0; n < several; n++) {
      const low = Math.min(from, to) - phase + n / several;
      const high = low + Math.abs(to - from);
      const passesHalf = Math.floor(high - 0.5) > Math.floor(low - 0.5);
      const off = passesHalf ? 0.5 : Math.max(Math.abs(low - Math.round(low)), Math.abs(high - Math.round(high)));
      worst = Math.max(worst, isWary && off > 0.5 - TIE ? 1 : off);
    }
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
  if (!isSteady(clip.picture, rate)) return 0.5 / perSecond(rate);
  const slides = slidesOf(clip, span.fromSec, span.toSec, rate);
  return Math.min(0.5, offOf(slides, span.fromSec * perSecond(rate), false)) / perSecond(rate);
}
