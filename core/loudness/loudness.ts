import { type Block, blockLength, type Meter } from '../signal/block.ts';
import { ratioToDb } from '../signal/decibels.ts';
import { assertInRange } from '../signal/fault.ts';
import { KWeightedEnergy } from './k-weighting.ts';
import { LoudnessSteps } from './loudness-steps.ts';
import { PeakFinder, SamplePeakFinder, TruePeakCurve } from './true-peak.ts';

/**
 * Weights of the channels of mono, stereo, 5.0 and 5.1 in the order of a WAV file: L R C (LFE) Ls Rs; the LFE channel is
 * left out. Source: ITU-R BS.1770-5, Annex 1, Table 3.
 */
const LAYOUT_WEIGHTS: readonly (readonly number[])[] = [[1], [1, 1], [1, 1, 1, 1.41, 1.41], [1, 1, 1, 0, 1.41, 1.41]];

/** What a LoudnessMeter measures. */
export interface LoudnessOptions {
  /** Sample rate, 8000 to 192000 Hz. */
  readonly rateHz: number;
  /**
   * How many channels a block has: 1 mono, 2 stereo, 5 (5.0) or 6 (5.1). For another number, or another order, give
   * `weights` instead.
   */
  readonly channels?: number;
  /** A weight a channel, 0 or more; 0 leaves a channel out of the loudness but not out of the peaks. */
  readonly weights?: readonly number[];
  /** Whether the report holds the curves. Default false. */
  readonly curves?: boolean;
  /**
   * 'exact' (the default): the true peak of the whole. 'curve': also that of each 100 ms, for the curves, at some more work.
   * 'off': none is sought, and the sample peak, which is never above it, stands in for it.
   */
  readonly truePeak?: 'exact' | 'curve' | 'off';
}

/** Values at steps of 100 ms: entry k is the reading at (k + 1) / 10 s. -Infinity for silence. */
export interface LoudnessCurves {
  /** LUFS, the 400 ms before that time; silence is taken to come before the first frame. */
  readonly momentaryLufs: readonly number[];
  /** LUFS, the 3 s before that time. */
  readonly shortTermLufs: readonly number[];
  /** dBTP of the 100 ms before that time, 17 frames late; empty unless truePeak is 'curve'. */
  readonly truePeakDbtp: readonly number[];
}

/** What was heard. A level of silence is -Infinity (JSON writes that as null). */
export interface LoudnessReport {
  /** Gated integrated loudness, LUFS; -Infinity when no 400 ms pass the gate, so too for sound shorter than 400 ms. */
  readonly integratedLufs: number;
  /** Loudness range, LU; 0 when nothing passes its gates or there are less than 3 s. Unsteady in the first 60 s. */
  readonly rangeLu: number;
  /** Greatest momentary (400 ms) loudness, looked for every 10 ms, LUFS. */
  readonly maxMomentaryLufs: number;
  /** Greatest short-term (3 s) loudness, looked for every 10 ms, LUFS. A piece under 3 s is taken to follow silence. */
  readonly maxShortTermLufs: number;
  /** Greatest sample of any channel, dBFS. */
  readonly samplePeakDbfs: number;
  /** Greatest interpolated magnitude of any channel, dBTP. */
  readonly truePeakDbtp: number;
  readonly lengthFrames: number;
  /** There when `curves` was asked for. */
  readonly curves?: LoudnessCurves;
}

/**
 * Loudness meter: momentary, short-term and integrated loudness, loudness range, sample and true peak.
 *
 * Source: ITU-R BS.1770-5, Annexes 1 and 2; EBU Tech 3341 (2023); EBU Tech 3342 (2023).
 * In: planar channels, full scale 1. A mono file counts as one channel of weight 1 and so reads 3.01 LU lower than the
 * same samples on both channels of a stereo file.
 * Out: see LoudnessReport; the result does not depend on how the input was cut into blocks.
 * Memory: two numbers per 100 ms (three with a true-peak curve), else constant. `result` sorts these, the readings do not.
 */
export class LoudnessMeter implements Meter<LoudnessReport> {
  readonly #weights: readonly number[];
  readonly #filters: readonly KWeightedEnergy[];
  readonly #steps: LoudnessSteps;
  readonly #finders: readonly (PeakFinder | SamplePeakFinder)[];
  readonly #peakCurve: TruePeakCurve | undefined;
  readonly #wantsCurves: boolean;
  #frames = 0;

  constructor(options: LoudnessOptions) {
    assertInRange('rateHz', options.rateHz, 8000, 192000);
    this.#weights = weightsOf(options);
    const truePeak = options.truePeak ?? 'exact';
    this.#wantsCurves = options.curves ?? false;
    this.#filters = this.#weights.map(() => new KWeightedEnergy(options.rateHz));
    this.#finders = this.#weights.map(() => (truePeak === 'off' ? new SamplePeakFinder() : new PeakFinder()));
    this.#steps = new LoudnessSteps(options.rateHz);
    this.#peakCurve = truePeak === 'curve' ? new TruePeakCurve(options.rateHz, this.#weights.length) : undefined;
  }

  /** LUFS of the 400 ms up to the last whole 10 ms; -Infinity for silence. For live reading. */
  get momentaryLufs(): number {
    return this.#steps.momentaryLufs;
  }

  /** LUFS of the 3 s up to the last whole 10 ms; -Infinity for silence. For live reading. */
  get shortTermLufs(): number {
    return this.#steps.shortTermLufs;
  }

  /** Gated loudness of all that was heard so far, as in the report. For live reading; reads one number per 100 ms. */
  get integratedLufs(): number {
    return this.#steps.integratedLufs;
  }

  /** Takes some frames. A RangeError names a wrong channel count, or frames that hold a number that is not finite. */
  add(block: Block): void {
    const length = blockLength(block);
    if (length === 0) return;
    if (block.length !== this.#weights.length) {
      throw new RangeError(`block has ${block.length} channels; this meter was made for ${this.#weights.length}`);
    }
    let from = 0;
    while (from < length) {
      const edge = this.#steps.nextEdgeFrame;
      const to = Math.min(length, from + edge - this.#frames);
      for (let channel = 0; channel < block.length; channel++) {
        if (this.#weights[channel] !== 0) this.#filters[channel]!.add(block[channel]!, from, to);
      }
      this.#frames += to - from;
      from = to;
      if (this.#frames === edge) this.#endStep();
    }
    for (let channel = 0; channel < block.length; channel++) this.#finders[channel]!.add(block[channel]!);
    this.#peakCurve?.add(block);
  }

  #endStep(): void {
    let energy = 0;
    for (let channel = 0; channel < this.#weights.length; channel++) {
      energy += this.#weights[channel]! * this.#filters[channel]!.takeEnergy();
    }
    this.#steps.push(energy);
  }

  result(): LoudnessReport {
    const peaks = this.#finders.map((finder) => finder.peaks());
    const report = {
      ...this.#steps.report(),
      samplePeakDbfs: ratioToDb(Math.max(...peaks.map((peak) => peak.sample))),
      truePeakDbtp: ratioToDb(Math.max(...peaks.map((peak) => peak.interpolated))),
      lengthFrames: this.#frames,
    };
    return this.#wantsCurves ? { ...report, curves: this.#curves() } : report;
  }

  #curves(): LoudnessCurves {
    return {
      momentaryLufs: this.#steps.momentaryCurve(),
      shortTermLufs: this.#steps.shortTermCurve(),
      truePeakDbtp: Array.from(this.#peakCurve?.result() ?? [], ratioToDb),
    };
  }

  /** Back to the state of a new meter. */
  reset(): void {
    for (const filter of this.#filters) filter.reset();
    for (const finder of this.#finders) finder.reset();
    this.#steps.reset();
    this.#peakCurve?.reset();
    this.#frames = 0;
  }
}

function weightsOf(options: LoudnessOptions): readonly number[] {
  if (options.weights !== undefined) {
    if (options.weights.length === 0) throw new RangeError('weights is empty; allowed 1 weight or more');
    options.weights.forEach((weight, channel) => {
      assertInRange(`weights[${channel}]`, weight, 0, 100);
    });
    return options.weights;
  }
  const weights = LAYOUT_WEIGHTS.find((layout) => layout.length === options.channels);
  if (weights === undefined) {
    throw new RangeError(`channels is ${options.channels}; allowed 1, 2, 5, 6, or give weights`);
  }
  return weights;
}
