import { filterInPlace, highPass, lowPass, peak } from './filter.ts';

/** Half the reach of the interpolating sinc, samples of the slower clock. */
const HALF_WIDTH = 24;
const STEPS = 512;
const KAISER_BETA = 9;

/** Modified Bessel function of the first kind, order 0, by its power series. */
function bessel0(x: number): number {
  let term = 1;
  let sum = 1;
  for (let k = 1; term > 1e-12 * sum; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

/** Right half of a Kaiser-windowed sinc, STEPS values a sample. */
function sincTable(): Float64Array {
  return Float64Array.from({ length: HALF_WIDTH * STEPS + 2 }, (_, i) => {
    const x = i / STEPS;
    const inside = 1 - (x / HALF_WIDTH) ** 2;
    if (inside <= 0) return 0;
    const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    return (sinc * bessel0(KAISER_BETA * Math.sqrt(inside))) / bessel0(KAISER_BETA);
  });
}

/** How the telephone's clock lies against the scene it records. */
export interface Clock {
  readonly rateHz: number;
  /** Scene time of the telephone's first sample, seconds. */
  readonly startSec: number;
  /** How much faster than true time its clock runs. */
  readonly driftPpm: number;
}

/**
 * What a telephone's clock makes of a sound: `lengthFrames` frames of its own, the first at `startSec` of the scene.
 * Band-limited interpolation (Smith and Gossett, ICASSP 1984) with a Kaiser-windowed sinc, ripple under -80 dB.
 */
export function recordOnClock(
  sound: Float64Array,
  soundRateHz: number,
  clock: Clock,
  lengthFrames: number,
): Float64Array {
  const table = sincTable();
  const step = soundRateHz / (clock.rateHz * (1 + clock.driftPpm * 1e-6));
  // A little below half the slower rate, so that the skirt of the filter folds nothing back.
  const squeeze = Math.min(1, 1 / step) * 0.95;
  const reach = HALF_WIDTH / squeeze;
  const result = new Float64Array(lengthFrames);
  for (let n = 0; n < lengthFrames; n++) {
    const position = clock.startSec * soundRateHz + n * step;
    const from = Math.max(0, Math.ceil(position - reach));
    const to = Math.min(sound.length - 1, Math.floor(position + reach));
    let sum = 0;
    for (let i = from; i <= to; i++) {
      const x = Math.abs(i - position) * squeeze * STEPS;
      const whole = x | 0;
      const low = table[whole]!;
      sum += sound[i]! * (low + (x - whole) * (table[whole + 1]! - low));
    }
    result[n] = sum * squeeze;
  }
  return result;
}

/** The colour of one telephone's microphone. */
export interface PhoneColour {
  readonly lowCutHz: number;
  readonly humpHz: number;
  readonly humpDb: number;
  readonly highCutHz: number;
}

/** Colours a recording in place. */
export function colour(sound: Float64Array, phone: PhoneColour, rateHz: number): void {
  filterInPlace(sound, highPass(phone.lowCutHz, rateHz));
  filterInPlace(sound, peak(phone.humpHz, phone.humpDb, 1.1, rateHz));
  filterInPlace(sound, lowPass(phone.highCutHz, rateHz));
}

/** Rounds to 16 bit; what is too loud is cut off flat, and counted. */
export function toInt16(sound: Float64Array, gain: number): { samples: Int16Array; clippedSamples: number } {
  const samples = new Int16Array(sound.length);
  let clippedSamples = 0;
  for (let i = 0; i < sound.length; i++) {
    const value = Math.round(sound[i]! * gain * 32768);
    if (value > 32767 || value < -32768) clippedSamples++;
    samples[i] = Math.max(-32768, Math.min(32767, value));
  }
  return { samples, clippedSamples };
}
