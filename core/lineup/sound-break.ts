import type { Sound } from '../signal/sound.ts';

/** A moment at which the wave of a sound breaks, as it does where sound was cut out or doubled. */
export interface SoundBreak {
  /** The sound's own time, s, to about 1 ms. */
  readonly atSec: number;
  /** Power of what no prediction explains there over that of before and after, as a ratio. */
  readonly ratio: number;
}

const ORDER = 24;
const WINDOW_SEC = 0.06;
const HOP_SEC = 0.02;
const GRAIN_SEC = 0.001;
/** What surrounds a break reaches from 3 ms to 25 ms on either side. */
const NEAR_GRAINS = 3;
const FAR_GRAINS = 25;
/** Measured on played notes: their attacks reach 6, cuts in a held tone 30 and more. */
const LEAST_RATIO = 8;

/**
 * Breaks of the wave between two times of a sound, s, strongest first, at most `most`.
 *
 * What a linear predictor of order 24 (Makhoul 1975, Linear prediction: a tutorial review, Proc. IEEE 63(4); fitted anew
 * every 20 ms) leaves over of a held tone is little; at a cut it leaves a pulse within 1 ms. A note's attack
 * leaves much too, but goes on doing so after it: the pulse has to stand over what lies before and over what lies after.
 * Candidates only: a click of a key or a tongue does the same. In silence and noise a cut cannot be heard and is not found.
 */
export function soundBreaks(sound: Sound, fromSec: number, toSec: number, most = 8): SoundBreak[] {
  const rate = sound.rateHz;
  const grain = Math.max(1, Math.round(GRAIN_SEC * rate));
  const margin = FAR_GRAINS + 1;
  const first = Math.round(fromSec * rate) - margin * grain;
  const grains = Math.max(0, Math.ceil(((toSec - fromSec) * rate) / grain)) + 2 * margin;
  const residual = residualPower(sound, first, grains, grain);
  const found: SoundBreak[] = [];
  for (let g = margin; g < grains - margin; g++) {
    // A pulse may lie across the border of two grains.
    const here = residual[g]! + residual[g + 1]!;
    if (here < residual[g - 1]! + residual[g]! || here < residual[g + 1]! + residual[g + 2]!) continue;
    const before = loudest(residual, g - FAR_GRAINS, g - NEAR_GRAINS);
    const after = loudest(residual, g + 1 + NEAR_GRAINS, g + 1 + FAR_GRAINS);
    const ratio = here / (Math.max(before, after) + 1e-13);
    if (ratio >= LEAST_RATIO) found.push({ atSec: (first + (g + 1) * grain) / rate, ratio });
  }
  return found.sort((a, b) => b.ratio - a.ratio).slice(0, most);
}

/** Greatest power of two grains together. */
function loudest(power: Float64Array, from: number, to: number): number {
  let most = 0;
  for (let g = from; g + 1 < to; g++) most = Math.max(most, power[g]! + power[g + 1]!);
  return most;
}

/** Mean square of the prediction's error, a number a grain, the first at frame `first`. */
function residualPower(sound: Sound, first: number, grains: number, grain: number): Float64Array {
  const rate = sound.rateHz;
  const hop = Math.max(1, Math.round((HOP_SEC * rate) / grain)) * grain;
  const window = Math.round(WINDOW_SEC * rate);
  const side = Math.max(ORDER, (window - hop) >> 1);
  const raw = new Float32Array(hop + 2 * side);
  const samples = new Float64Array(raw.length);
  const shaped = new Float64Array(raw.length);
  const taper = Float64Array.from(samples, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * (n + 0.5)) / raw.length));
  const power = new Float64Array(grains + hop / grain + 2);
  const lags = new Float64Array(ORDER + 1);
  for (let from = 0; from < grains * grain; from += hop) {
    sound.read(first + from - side, raw);
    for (let n = 0; n < raw.length; n++) {
      samples[n] = raw[n]!;
      shaped[n] = samples[n]! * taper[n]!;
    }
    autocorrelate(shaped, lags);
    const taps = predictor(lags);
    for (let n = 0; n < hop; n++) {
      const at = side + n;
      let sum = samples[at]!;
      for (let k = 1; k <= ORDER; k++) sum += taps[k]! * samples[at - k]!;
      power[Math.floor((from + n) / grain)]! += (sum * sum) / grain;
    }
  }
  return power;
}

function autocorrelate(samples: Float64Array, lags: Float64Array): void {
  for (let lag = 0; lag <= ORDER; lag++) {
    let sum = 0;
    for (let n = lag; n < samples.length; n++) sum += samples[n]! * samples[n - lag]!;
    lags[lag] = sum;
  }
}

/** Levinson and Durbin's recursion; a floor of noise 90 dB below keeps it stable. */
function predictor(lags: Float64Array): Float64Array {
  const taps = new Float64Array(ORDER + 1);
  const before = new Float64Array(ORDER + 1);
  taps[0] = 1;
  let error = lags[0]! * (1 + 1e-9) + 1e-15;
  for (let i = 1; i <= ORDER; i++) {
    let sum = lags[i]!;
    for (let k = 1; k < i; k++) sum += taps[k]! * lags[i - k]!;
    const reflection = -sum / error;
    before.set(taps);
    for (let k = 1; k < i; k++) taps[k] = before[k]! + reflection * before[i - k]!;
    taps[i] = reflection;
    error *= Math.max(1e-12, 1 - reflection * reflection);
  }
  return taps;
}
