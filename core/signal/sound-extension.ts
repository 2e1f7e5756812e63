import type { Random } from './random.ts';

/** Most coefficients: with these, tones 50 Hz apart are told from one another at 48 kHz. */
const MOST_ORDER = 960;
/** Frames of the known sound for each coefficient: fewer, and noise is taken for tones. */
const FRAMES_PER_ORDER = 4;
/** Below this, nothing can be learnt. */
const LEAST_FRAMES = 64;
/** What is left of the power when the prediction is as good as single precision lets it be. */
const EXACT = 1e-14;

/** Frames of known sound that an extension makes use of, at most. */
export const LEARNT_FRAMES = MOST_ORDER * FRAMES_PER_ORDER;

/** Work space of `extendSound`, for as many extensions as wanted, one after another. About 150 kB. */
export class ExtensionScratch {
  readonly forward = new Float64Array(LEARNT_FRAMES);
  readonly backward = new Float64Array(LEARNT_FRAMES);
  readonly coefficients = new Float64Array(MOST_ORDER + 1);
  readonly reversed = new Float64Array(MOST_ORDER + 1);
  readonly history = new Float64Array(LEARNT_FRAMES);
}

/**
 * Goes on with a sound as it was: its tones and its noise go on at their level. An autoregressive model of high order
 * (Burg's method: Kay, Modern Spectral Estimation, 1988, section 7.6; for gaps in music Kauppinen and Roth, DAFx 2002),
 * driven by its own prediction error drawn at random, without which noise would die away (Godsill and Rayner, Digital
 * Audio Restoration, 1998, section 5.2.5). Good for some 50 ms.
 *
 * known: its last LEARNT_FRAMES count, the last one is the nearest. Of fewer than 64, silence comes. Fills `target`.
 */
export function extendSound(
  known: Float32Array,
  target: Float32Array,
  random: Random,
  scratch: ExtensionScratch,
): void {
  const frames = Math.min(known.length, LEARNT_FRAMES);
  if (frames < LEAST_FRAMES) {
    target.fill(0);
    return;
  }
  const { forward, history, coefficients } = scratch;
  for (let n = 0; n < frames; n++) history[n] = known[known.length - frames + n]!;
  const order = fitByBurg(frames, Math.min(MOST_ORDER, Math.floor(frames / FRAMES_PER_ORDER)), scratch);
  // The last `order` frames, then what is made, in one row that is moved up when it is full.
  history.copyWithin(0, frames - order, frames);
  let fill = order;
  for (let n = 0; n < target.length; n++) {
    if (fill === history.length) {
      history.copyWithin(0, fill - order, fill);
      fill = order;
    }
    let sum = forward[order + Math.floor(random.uniform() * (frames - order))]!;
    for (let j = 1; j <= order; j++) sum -= coefficients[j]! * history[fill - j]!;
    history[fill++] = sum;
    target[n] = sum;
  }
}

/**
 * Coefficients a[1..order] with x[n] = -sum a[j] x[n - j] + error, always stable, and the errors of `history` from
 * frame `order` on in `forward`. Gives the order it came to.
 */
export function fitByBurg(frames: number, order: number, scratch: ExtensionScratch): number {
  const { forward, backward, coefficients, reversed, history } = scratch;
  let power = 0;
  for (let n = 0; n < frames; n++) {
    forward[n] = history[n]!;
    backward[n] = history[n]!;
    power += history[n]! ** 2;
  }
  coefficients.fill(0);
  coefficients[0] = 1;
  if (power === 0) return 0;
  const enough = EXACT * power;
  for (let m = 1; m <= order; m++) {
    let cross = 0;
    let sum = 0;
    for (let n = m; n < frames; n++) {
      const f = forward[n]!;
      const b = backward[n - 1]!;
      cross += f * b;
      sum += f * f + b * b;
    }
    if (sum <= enough) return m - 1;
    const k = (-2 * cross) / sum;
    for (let j = 0; j <= m; j++) reversed[j] = coefficients[m - j]!;
    for (let j = 1; j <= m; j++) coefficients[j]! += k * reversed[j]!;
    // From the end, because the backward error moves on by one frame.
    for (let n = frames - 1; n >= m; n--) {
      const f = forward[n]!;
      const b = backward[n - 1]!;
      forward[n] = f + k * b;
      backward[n] = b + k * f;
    }
  }
  return order;
}
