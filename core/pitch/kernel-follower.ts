import { setSplits, setTwiddles } from '../signal/simd-fft.ts';
import { makeWindow } from '../signal/window.ts';
import { THRESHOLDS_BELOW } from './candidates.ts';
import { loadPitchKernel, type PitchKernel } from './kernel/pitch-kernel.ts';
import { KernelEar } from './kernel-ear.ts';
import { NumberRow } from './number-row.ts';
import { BREAK_TAPS } from './own-breaks.ts';
import { type FollowedTrack, type FollowPlan, type PitchFollower, windowPower } from './pitch-follower.ts';
import { mostMoreSlow } from './slow-window.ts';

/** Lengths of the rows that a call tells, as laid out in assembly/. */
const MOST_LOOKED = 256;
const MOST_STEPS = 1024;
const MOST_SETTLED = 2048;

/**
 * Follows the pitch in WebAssembly, all frames of a piece in one call; the ear's spectra in single precision (kernel-ear.ts), all else the
 * sums of script-follower.ts in the same order. Undefined where there is no SIMD. Memory: some 2 MB, and eight rows as long as the take.
 */
export function makeKernelFollower(plan: FollowPlan): PitchFollower | undefined {
  const kernel = loadPitchKernel();
  return kernel === undefined ? undefined : new KernelFollower(kernel, plan);
}

class KernelFollower implements PitchFollower {
  readonly #kernel: PitchKernel;
  readonly #ear: KernelEar;
  /** How many frames were looked at, were settled, how many steps ended, and of how many it is told what repeats, in the last call. */
  readonly #counts: Int32Array;
  readonly #weighted: Float64Array;
  readonly #levels = new NumberRow();
  /** Each row that the last call told, which of the counts it has, and where it goes. */
  readonly #told: readonly { readonly from: Float64Array; readonly count: number; readonly to: NumberRow }[];

  constructor(kernel: PitchKernel, plan: FollowPlan) {
    const { workHz, stepFrames, aheadFrames, slow } = plan;
    const heardFrames = kernel.heardNeeded(stepFrames, aheadFrames);
    const table = kernel.prepare(
      ...[workHz, stepFrames, aheadFrames, heardFrames, plan.firstHeard],
      ...[slow.size, slow.slowFrames, mostMoreSlow()],
    );
    if (table === 0) throw new RangeError(`workHz is ${workHz}; allowed what the memory holds`);
    this.#kernel = kernel;
    this.#ear = new KernelEar(kernel, { ...plan, heardFrames });
    // Nothing is laid out after this, so the views stay good.
    const { buffer } = kernel.memory;
    const at = addresses(new Uint32Array(buffer, table, 20));
    const doubles = (address: number, length: number): Float64Array => new Float64Array(buffer, address, length);
    setTwiddles(doubles(at.twiddles, slow.size), slow.size / 2);
    setSplits(doubles(at.splits, slow.size / 2), slow.size);
    doubles(at.hann, slow.size).set(makeWindow('hann', slow.size));
    doubles(at.thresholds, THRESHOLDS_BELOW.length).set(THRESHOLDS_BELOW);
    for (const [place, row] of BREAK_TAPS.entries()) doubles(at.taps + 8 * row.length * place, row.length).set(row);
    this.#counts = new Int32Array(buffer, at.counts, 4);
    this.#weighted = doubles(at.weighted, MOST_LOOKED);
    const told = (address: number, length: number, count: number) => {
      return { from: doubles(address, length), count, to: new NumberRow() };
    };
    this.#told = [
      told(at.roughness, MOST_LOOKED, 0),
      told(at.hz, MOST_SETTLED, 1),
      told(at.shares, MOST_SETTLED, 1),
      told(at.hollow, MOST_SETTLED, 1),
      told(at.steps, MOST_STEPS, 2),
      told(at.bright, MOST_STEPS, 2),
      told(at.breaks, (at.breaksEnd - at.breaks) / 8, 3),
    ];
  }

  add(samples: Float32Array): void {
    this.#ear.take(samples);
    this.#kernel.follow(samples.length);
    this.#keep();
  }

  end(): FollowedTrack {
    this.#kernel.followEnd();
    this.#keep();
    const [roughness, hz, shares, hollow, stepPowers, brightPowers, breakPowers] = this.#told.map((row) =>
      row.to.toArray(),
    ) as [Float64Array, Float64Array, Float64Array, Float64Array, Float64Array, Float64Array, Float64Array];
    const levelsDbfs = this.#levels.toArray();
    return { hz, shares, hollow, roughness, levelsDbfs, stepPowers, brightPowers, breakPowers };
  }

  /** Takes what the last call told. */
  #keep(): void {
    for (const { from, count, to } of this.#told) to.append(from, this.#counts[count]!);
    for (let n = 0; n < this.#counts[0]!; n++) this.#levels.push(10 * Math.log10(windowPower(this.#weighted[n]!)));
  }
}

/** The table that `prepare` of assembly/follow.ts fills. */
function addresses(table: Uint32Array) {
  const [twiddles, splits, hann, , hz, shares, hollow, , taps, breaks, breaksEnd] = table as unknown as number[];
  const [weighted, roughness, steps, bright, counts, thresholds] = table.subarray(12) as unknown as number[];
  return {
    ...{ twiddles: twiddles!, splits: splits!, hann: hann!, hz: hz!, shares: shares!, hollow: hollow!, taps: taps! },
    ...{ breaks: breaks!, breaksEnd: breaksEnd!, weighted: weighted!, roughness: roughness!, steps: steps! },
    ...{ bright: bright!, counts: counts!, thresholds: thresholds! },
  };
}
