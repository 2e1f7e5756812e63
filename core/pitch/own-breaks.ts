import { NumberRow } from './number-row.ts';

/** A sample between two others is told by this many about it. */
const TAPS = 8;
/** So finely is the place between two samples divided. */
const PLACES = 32;
/** Before the first pitch of a take, frames of the work rate. */
const ANY_PERIOD = 60;
/** What lies longer than this before the first pitch of a take need not wait for it, frames: 2 s. */
const MOST_LEAD = 200;
/** Lower than every pitch of a track. */
const LOWEST_HZ = 20;
/** Steps of less power hold no note, full scale 1 squared. */
const QUIET = 1e-10;
/** Powers are dropped so many at a time. */
const MOST_TOLD = 1024;

/** Sinc under a cosine, for each place between two samples. */
export const BREAK_TAPS = Array.from({ length: PLACES + 1 }, (_, place) => {
  const row = Float64Array.from({ length: TAPS }, (_unused, k) => {
    const x = k - (TAPS / 2 - 1) - place / PLACES;
    const sinc = Math.abs(x) < 1e-9 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    return sinc * Math.cos((Math.PI * x) / (TAPS + 1.2));
  });
  const sum = row.reduce((total, tap) => total + tap, 0);
  return row.map((tap) => tap / sum);
});

/** Period of each frame of a track in samples of its own sound; where there is no pitch, that of the last one or the first to come. */
export function periodsOf({ hz, samplesHz }: { readonly hz: Float64Array; readonly samplesHz: number }): Float64Array {
  const periods = new Float64Array(hz.length);
  let last = hz.find((value) => !Number.isNaN(value)) ?? samplesHz / ANY_PERIOD;
  for (let n = 0; n < hz.length; n++) {
    if (!Number.isNaN(hz[n]!)) last = hz[n]!;
    periods[n] = samplesHz / last;
  }
  return periods;
}

/** Where steps and frames lie. Frame n lies at firstSec + n hopSec. */
interface Raster {
  readonly samplesHz: number;
  readonly stepFrames: number;
  readonly hopSec: number;
  readonly firstSec: number;
}

/**
 * How little a note repeats, step by step: half the mean square of what a sample differs from the one a period before it. A tone of
 * whatever vibrato leaves next to nothing of its power; a note begun anew at the same pitch leaves much for one period, since its
 * partials begin at phases of their own. Source: the difference function of YIN (de Cheveigne and Kawahara 2002, JASA 111, eq. 6),
 * taken at the one lag the track tells and over steps of 2 ms instead of 43. Out: one number a step, full scale 1 squared.
 * Memory: that, and the samples whose pitch is not settled yet.
 */
export class OwnBreaks {
  readonly #at: Raster;
  readonly #breaks = new NumberRow();
  /** Periods of the frames that are settled, from `#firstFrame` on, samples. */
  readonly #periods: number[] = [];
  #firstFrame = 0;
  /** Frames before the first pitch whose period is not known yet. */
  #lead = 0;
  #lastPeriod: number | undefined;
  /** Powers of the steps that are to be told, from the `#told`th on, and the samples from `#firstSample` on. */
  readonly #powers: number[] = [];
  #told = 0;
  #samples = new Float32Array(16384);
  #count = 0;
  #firstSample = 0;

  constructor(at: Raster) {
    this.#at = at;
  }

  addSamples(samples: Float32Array): void {
    while (this.#count + samples.length > this.#samples.length) this.#makeRoom();
    this.#samples.set(samples, this.#count);
    this.#count += samples.length;
  }

  /** The mean square of the next step, whose samples have been added. */
  addStep(power: number): void {
    this.#powers.push(power);
  }

  /** The pitch of the next frame, Hz; NaN where there is none. */
  settle(hz: number): void {
    if (!Number.isNaN(hz)) {
      this.#lastPeriod = this.#at.samplesHz / hz;
      this.#settleLead(this.#lead, this.#lastPeriod);
    } else if (this.#lastPeriod === undefined) {
      if (++this.#lead > MOST_LEAD) this.#settleLead(1, ANY_PERIOD);
      this.#tell(false);
      return;
    }
    this.#periods.push(this.#lastPeriod!);
    this.#tell(false);
  }

  /** All steps; no frame comes any more. */
  result(): Float64Array {
    this.#settleLead(this.#lead, ANY_PERIOD);
    this.#tell(true);
    return this.#breaks.toArray();
  }

  #settleLead(count: number, period: number): void {
    for (let n = 0; n < count; n++) this.#periods.push(period);
    this.#lead -= count;
  }

  /** Tells the steps whose frame is settled; isEnd: the last frame stands for what comes after it. */
  #tell(isEnd: boolean): void {
    const { samplesHz, stepFrames, hopSec, firstSec } = this.#at;
    const last = this.#firstFrame + this.#periods.length - 1;
    const powers = this.#powers;
    let dropped = 0;
    for (; this.#told < powers.length; this.#told++) {
      const power = powers[this.#told]!;
      const step = this.#breaks.length;
      const frame = Math.max(0, Math.round((((step + 0.5) * stepFrames) / samplesHz - firstSec) / hopSec));
      if (frame > last && !(isEnd && last >= this.#firstFrame)) break;
      dropped = Math.min(frame, last) - this.#firstFrame;
      this.#breaks.push(power < QUIET ? 0 : this.#breakAt(step, this.#periods[dropped]!));
    }
    this.#periods.splice(0, dropped);
    this.#firstFrame += dropped;
    if (this.#told < MOST_TOLD) return;
    powers.splice(0, this.#told);
    this.#told = 0;
  }

  #breakAt(step: number, period: number): number {
    const { stepFrames } = this.#at;
    const samples = this.#samples;
    const whole = Math.floor(period);
    const row = BREAK_TAPS[Math.round((period - whole) * PLACES)]!;
    const from = Math.max(whole + TAPS, step * stepFrames) - this.#firstSample;
    const to = (step + 1) * stepFrames - this.#firstSample;
    // TAPS written out: a loop over them takes four times as long.
    const t0 = row[0]!;
    const t1 = row[1]!;
    const t2 = row[2]!;
    const t3 = row[3]!;
    const t4 = row[4]!;
    const t5 = row[5]!;
    const t6 = row[6]!;
    const t7 = row[7]!;
    let sum = 0;
    for (let n = from, m = from - whole + TAPS / 2 - 1; n < to; n++, m++) {
      const newer = t0 * samples[m]! + t1 * samples[m - 1]! + t2 * samples[m - 2]! + t3 * samples[m - 3]!;
      const older = t4 * samples[m - 4]! + t5 * samples[m - 5]! + t6 * samples[m - 6]! + t7 * samples[m - 7]!;
      const off = samples[n]! - (newer + older);
      sum += off * off;
    }
    return sum / (2 * stepFrames);
  }

  /** Forgets samples that no step needs any more, or takes more memory. */
  #makeRoom(): void {
    const longest = Math.ceil(this.#at.samplesHz / LOWEST_HZ) + TAPS;
    const needed = Math.max(0, this.#breaks.length * this.#at.stepFrames - longest - this.#firstSample);
    if (needed >= this.#count / 2) {
      this.#samples.copyWithin(0, needed, this.#count);
      this.#firstSample += needed;
      this.#count -= needed;
      return;
    }
    const larger = new Float32Array(2 * this.#samples.length);
    larger.set(this.#samples);
    this.#samples = larger;
  }
}
