import type { PitchTrack } from './pitch-tracker.ts';

/** A sample between two others is told by this many about it. */
const TAPS = 8;
/** So finely is the place between two samples divided. */
const PLACES = 32;
/** Before the first pitch of a take, frames of the work rate. */
const ANY_PERIOD = 60;

/** Steps of less power hold no note, full scale 1 squared. */
const QUIET = 1e-10;

/** What is needed of a track. */
export type SampledTrack = Pick<PitchTrack, 'hz' | 'hopSec' | 'firstSec' | 'samples' | 'samplesHz' | 'stepPowers'>;

/** Sinc under a cosine, for each place between two samples. */
const taps = Array.from({ length: PLACES + 1 }, (_, place) => {
  const row = Float64Array.from({ length: TAPS }, (_unused, k) => {
    const x = k - (TAPS / 2 - 1) - place / PLACES;
    const sinc = Math.abs(x) < 1e-9 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    return sinc * Math.cos((Math.PI * x) / (TAPS + 1.2));
  });
  const sum = row.reduce((total, tap) => total + tap, 0);
  return row.map((tap) => tap / sum);
});

/** Period of each frame of a track in samples of its own sound; where there is no pitch, that of the last one or the first to come. */
export function periodsOf({ hz, samplesHz }: Pick<PitchTrack, 'hz' | 'samplesHz'>): Float64Array {
  const periods = new Float64Array(hz.length);
  let last = hz.find((value) => !Number.isNaN(value)) ?? samplesHz / ANY_PERIOD;
  for (let n = 0; n < hz.length; n++) {
    if (!Number.isNaN(hz[n]!)) last = hz[n]!;
    periods[n] = samplesHz / last;
  }
  return periods;
}

/**
 * How little a note repeats, step by step: half the mean square of what a sample differs from the one a period before it. A tone of
 * whatever vibrato leaves next to nothing of its power; a note begun anew at the same pitch leaves much for one period, since its
 * partials begin at phases of their own. Source: the difference function of YIN (de Cheveigne and Kawahara 2002, JASA 111, eq. 6),
 * taken at the one lag the track tells and over steps of 2 ms instead of 43. Out: one number a step of `stepPowers`, full scale 1 squared.
 */
export function ownBreaks(track: SampledTrack, periods: Float64Array): Float64Array {
  const { samples, samplesHz, hopSec, firstSec, stepPowers, hz } = track;
  const steps = stepPowers.length;
  const stepFrames = Math.round((samplesHz * hopSec) / 5);
  const breaks = new Float64Array(steps);
  for (let step = 0; step < steps; step++) {
    if (stepPowers[step]! < QUIET) continue;
    const sec = ((step + 0.5) * stepFrames) / samplesHz;
    const frame = Math.max(0, Math.min(hz.length - 1, Math.round((sec - firstSec) / hopSec)));
    const period = periods[frame]!;
    const whole = Math.floor(period);
    const row = taps[Math.round((period - whole) * PLACES)]!;
    const from = Math.max(whole + TAPS, step * stepFrames);
    const to = Math.min(samples.length, (step + 1) * stepFrames);
    let sum = 0;
    for (let n = from; n < to; n++) {
      const newest = n - whole + TAPS / 2 - 1;
      let before = 0;
      for (let k = 0; k < TAPS; k++) before += row[k]! * samples[newest - k]!;
      sum += (samples[n]! - before) ** 2;
    }
    breaks[step] = sum / (2 * stepFrames);
  }
  return breaks;
}
