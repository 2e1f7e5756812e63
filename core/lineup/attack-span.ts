import { loneFrames } from './lone-frames.ts';
import { type Levels, type Rises, TICK_SEC } from './trace.ts';

/** A frame in which this share of what usually begins does is one at which a note begins. */
const LEAST_SHARE = 0.3;
const USUAL_QUANTILE = 0.9;
/** Frames to either side in which no more begins. */
const APART_FRAMES = 2;

/** Before a note, the level from here to there is what it rises from; after it, its greatest level is looked for so long, ticks. */
const BEFORE_TICKS = [40, 10] as const;
const EARLY_TICKS = 15;
const PEAK_TICKS = 175;
/** Levels are means of so many ticks: 10 ms. */
const SMOOTH_TICKS = 5;
/** A note that rises by less than this power ratio (9 dB) begins over another that still sounds: its attack is not seen. */
const LEAST_RISE = 8;
/** The attack is the way from 10 dB below the note's greatest level to 3 dB below it, as power over that before it. */
const FROM_SHARE = 0.1;
const TO_SHARE = 0.5;
const LEAST_NOTES = 8;

/** Frames at which notes begin: where more begins than in the frames about them, and not much less than usually does. */
export function beginningsOf({ frames, riseFrom, riseBy }: Rises): number[] {
  const sums = new Float64Array(frames);
  for (let frame = 0; frame < frames; frame++) {
    for (let i = riseFrom[frame]!; i < riseFrom[frame + 1]!; i++) sums[frame]! += riseBy[i]!;
  }
  return loneFrames(sums, LEAST_SHARE, USUAL_QUANTILE, APART_FRAMES);
}

/**
 * How long a recording's notes take to become loud, s: the median of the way from 10 to 3 dB below each note's greatest level.
 * beginningsSec: about when notes begin in it. Undefined where fewer than eight notes stand out from what sounds before them.
 */
export function attackSpan({ energy }: Levels, beginningsSec: readonly number[]): number | undefined {
  const spans: number[] = [];
  const around = new Float64Array(EARLY_TICKS + PEAK_TICKS);
  for (const sec of beginningsSec) {
    const span = spanAt(energy, Math.round(sec / TICK_SEC), around);
    if (span !== undefined) spans.push(span * TICK_SEC);
  }
  return spans.length < LEAST_NOTES ? undefined : spans.sort((a, b) => a - b)[spans.length >> 1];
}

/** Of use within one asking only. */
const quiet = new Float32Array(BEFORE_TICKS[0] - BEFORE_TICKS[1]);

/** Ticks of the way, undefined where the note does not stand out. around: room for the levels about it. */
function spanAt(energy: Float32Array, tick: number, around: Float64Array): number | undefined {
  const [before] = BEFORE_TICKS;
  if (tick < before || tick + PEAK_TICKS + SMOOTH_TICKS >= energy.length) return undefined;
  for (let n = 0; n < quiet.length; n++) quiet[n] = energy[tick - before + n]!;
  const base = quiet.sort()[quiet.length >> 1]!;
  let most = 0;
  for (let n = 0; n < around.length; n++) {
    around[n] = smoothed(energy, tick - EARLY_TICKS + n) - base;
    most = Math.max(most, around[n]!);
  }
  if (most + base < LEAST_RISE * base || most <= 0) return undefined;
  const from = around.findIndex((power) => power >= FROM_SHARE * most);
  return around.findIndex((power) => power >= TO_SHARE * most) - from;
}

function smoothed(energy: Float32Array, middle: number): number {
  let sum = 0;
  for (let i = middle - (SMOOTH_TICKS >> 1); i <= middle + (SMOOTH_TICKS >> 1); i++) sum += energy[i]!;
  return sum / SMOOTH_TICKS;
}
