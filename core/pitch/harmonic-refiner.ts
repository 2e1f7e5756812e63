import type { Spectrum } from './pitch-ear.ts';

/** Partials that tell the pitch; higher ones are too sharp on strings (stiffness) and too weak elsewhere. */
const PARTIALS = 8;
/** Partials whose power is counted. */
const COUNTED_PARTIALS = 64;
/**
 * Partials that are no weaker than this, to the strongest, count much alike: 20 dB below it one counts a quarter. In a room each has
 * its own error, from its own ways through it, so that many tell the pitch better than the strongest; and listeners go by the
 * lower partials together (Moore, Glasberg and Peters 1985, "Relative dominance of individual partials", JASA 77; from memory).
 * Weights of the whole power (times number) were within 5 cents of the same note dry on 97.9 % of 280 notes of sampled instruments
 * in rooms, these on 98.9 %, and of 312 that were not used to choose them on 97.8 and 98.7 %.
 */
const ALIKE = 0.01;
/** A period of few frames is told this coarsely by YIN's dip, as a ratio; the first partial is looked for as far. */
const COARSE = 0.02;
/** A partial may lie this far from its place, as a ratio: half a half tone. */
const FARTHEST = 0.03;
/** Of low notes' bins at most this share counts as covered by partials. */
const MOST_COVERED = 0.8;
/** Leakage of the window and rounding leave this much beside the partials of the purest tone. */
const LEAST_REST = 0.003;
/** A partial this much weaker than its neighbour is next to nothing: -25 dB. */
const ALONE = 0.003;
/** A hole lies 17 dB below both its neighbours, which are within 23 dB of the strongest partial. */
const HOLE = 0.02;
const STRONG = 0.005;
/** A first or second partial of less than this share of the power is missing: 23 dB below. */
const FAINT = 0.005;
/** A partial with more than this share of the power is one note's, whatever is missing beside it. */
const ALMOST_ALL = 0.9;
/** A partial stands clear where it has ten times the mean power of what lies half way to its neighbours. */
const CLEAR = 10;
/** What lies 38 dB below the strongest partial may be anything. */
const WORTH = 1.6e-4;
/** Half way to the next place has to lie this many bins off, or the window's own skirts fill it. */
const APART_BINS = 3;
/** Places between the partials of a pitch, in its units, at which the partials of its half and its third lie. */
const BETWEEN = [
  { places: [0.5, 1.5, 2.5, 3.5], half: 0.25, needed: 2 },
  { places: [1 / 3, 2 / 3, 4 / 3, 5 / 3], half: 1 / 6, needed: 3 },
] as const;
/** A partial between others counts where it lies this near its place, as a ratio; else it may be the last note's, which still rings. */
const IN_PLACE = 0.015;
const TURN = 2 * Math.PI;

/** What a refinement found. */
export interface Refined {
  /** Hz; the coarse value where no partial stood out. */
  hz: number;
  /** Share of the window's power that lies in partials of this pitch, 0 to 1. */
  share: number;
  /** Power that lies beside the partials, per bin of those, over the whole window's power; floored. */
  rest: number;
  /** Share of the partials' power in those (but the first) that have none beside them: many where the pitch is too low. */
  alone: number;
  /**
   * The first partial is missing, and so is the second or one between two strong ones: a common fraction of several notes
   * rather than a pitch.
   */
  isHollow: boolean;
  /** Partials stand clear between its own, where those of its half or its third lie: the pitch is an octave or a twelfth lower. */
  isOverlooked: boolean;
  /** Of the first eight partials those that stand clear, less half of those that do not below the highest that does. */
  standing: number;
}

/**
 * Fine pitch from the partials' phases: how far each partial's phase turns from one window to the next gives its frequency far
 * more finely than the bins stand (phase vocoder; Flanagan and Golden 1966). Bins are those of a Hann window, formed from the
 * rectangular spectrum by three-point weights (Harris 1978). Partials are weighted by strength (ALIKE) and the root of their number:
 * the variance of f_n / n falls with n^2, but stiff strings sharpen high partials with n^2. Powers 0 to 2 of n were tried: none
 * was best throughout.
 * Allocates nothing while running.
 */
export class HarmonicRefiner {
  readonly #binHz: number;
  readonly #hopSec: number;
  readonly #bins: number;
  #beforeRe: Float64Array = new Float64Array(0);
  #beforeIm: Float64Array = new Float64Array(0);
  #re: Float64Array = new Float64Array(0);
  #im: Float64Array = new Float64Array(0);
  /** Power of each Hann bin. */
  #binPowers: Float64Array = new Float64Array(0);
  readonly #powers = new Float64Array(COUNTED_PARTIALS + 1);
  /** What each of the first partials says the pitch is, Hz, and how strong it is; 0 where it is too far off. */
  readonly #told = new Float64Array(PARTIALS + 1);
  readonly #strengths = new Float64Array(PARTIALS + 1);
  #hasBefore = false;
  readonly result: Refined = { hz: 0, share: 0, rest: 1, alone: 0, isHollow: false, isOverlooked: false, standing: 0 };

  /** size: of the windows, frames; hopFrames: from one to the next, less than size / 4. */
  constructor(size: number, hopFrames: number, rateHz: number) {
    this.#binHz = rateHz / size;
    this.#hopSec = hopFrames / rateHz;
    this.#bins = size / 2 + 1;
  }

  /** Takes the next window's spectrum; its bins are read until the window after it has ended, its powers until `next`. */
  begin({ re, im, powers }: Spectrum): void {
    this.#re = re;
    this.#im = im;
    this.#binPowers = powers;
  }

  /** Ends with the window: its spectrum becomes the one before. */
  next(): void {
    this.#beforeRe = this.#re;
    this.#beforeIm = this.#im;
    this.#hasBefore = true;
  }

  /** Refines a pitch near `coarseHz`; fills `result`. whole: sum of all bins' powers (one side). */
  refine(coarseHz: number, whole: number): Refined {
    const { result } = this;
    const binPowers = this.#binPowers;
    const binHz = this.#binHz;
    let weights = 0;
    let sum = 0;
    let power = 0;
    let partials = 0;
    // What the lower partials say steers the search for the higher ones.
    let toldHz = coarseHz;
    for (let number = 1; number <= COUNTED_PARTIALS; number++) {
      const expected = number * toldHz;
      const bin =
        number === 1 ? this.#peakWithin(expected / binHz, COARSE * expected) : peakNear(binPowers, expected / binHz);
      if (bin < 0) break;
      const strength = binPowers[bin]!;
      const own = strength + binPowers[bin - 1]! + binPowers[bin + 1]!;
      power += own;
      this.#powers[number] = own;
      partials = number;
      if (number > PARTIALS) continue;
      this.#strengths[number] = 0;
      if (!this.#hasBefore) continue;
      const hz = this.#frequency(bin) / number;
      if (Math.abs(hz / coarseHz - 1) > FARTHEST) continue;
      this.#told[number] = hz;
      this.#strengths[number] = strength;
      weights += strength * number;
      sum += strength * number * hz;
      if (weights > 0) toldHz = sum / weights;
    }
    result.hz = weights > 0 ? this.#agreed(Math.min(PARTIALS, partials)) : coarseHz;
    result.share = Math.min(1, power / whole);
    this.#judgePattern(partials, power);
    result.isOverlooked = this.#isOverlooked(result.hz, partials);
    result.standing = this.#standing(result.hz, partials);
    const spacing = coarseHz / binHz;
    const covered = partials * Math.min(3, MOST_COVERED * spacing);
    result.rest = Math.max(LEAST_REST, 1 - result.share) / Math.max(1, this.#bins - covered);
    return result;
  }

  /** The pitch that the first partials tell together: strong ones much alike, whichever of them is strongest. */
  #agreed(partials: number): number {
    let strongest = 0;
    for (let n = 1; n <= partials; n++) strongest = Math.max(strongest, this.#strengths[n]!);
    let weights = 0;
    let sum = 0;
    for (let n = 1; n <= partials; n++) {
      const strength = this.#strengths[n]!;
      const weight = Math.sqrt(n) * (strength / (strength + ALIKE * strongest)) ** 2;
      weights += weight;
      sum += weight * this.#told[n]!;
    }
    return sum / weights;
  }

  /** The strongest of the first so many counted partials, none of which may lie beyond the band: there the last pitch's still stand. */
  #strongestOf(count: number): number {
    let strongest = 0;
    for (let n = 1; n <= count; n++) strongest = Math.max(strongest, this.#powers[n]!);
    return strongest;
  }

  /** Counts what speaks for a pitch that is a common fraction of the notes that sound: partials alone, and holes. */
  #judgePattern(partials: number, power: number): void {
    const { result } = this;
    const powers = this.#powers;
    const strongest = this.#strongestOf(partials);
    let alone = 0;
    let holes = 0;
    for (let n = 2; n < partials; n++) {
      const below = powers[n - 1]!;
      const own = powers[n]!;
      const above = powers[n + 1]!;
      if (Math.max(below, above) < ALONE * own && !this.#hasClearNeighbour(n, strongest)) alone += own;
      const beside = Math.min(below, above);
      if (beside > STRONG * strongest && own < HOLE * beside) holes++;
    }
    result.alone = power > 0 ? alone / power : 0;
    const faint = FAINT * power;
    result.isHollow = strongest < ALMOST_ALL * power && powers[1]! < faint && (powers[2]! < faint || holes > 0);
  }

  /** Whether a partial beside the nth stands clear of what lies about it, however weak it is beside the nth. */
  #hasClearNeighbour(n: number, strongest: number): boolean {
    const { hz } = this.result;
    return this.#isClear((n - 1) * hz, 0.5 * hz, strongest) || this.#isClear((n + 1) * hz, 0.5 * hz, strongest);
  }

  #standing(hz: number, partials: number): number {
    const strongest = this.#strongestOf(Math.min(PARTIALS, partials));
    let clear = 0;
    let highest = 0;
    for (let n = 1; n <= PARTIALS; n++) {
      if (!this.#isClear(n * hz, 0.5 * hz, strongest)) continue;
      clear++;
      highest = n;
    }
    return clear - 0.5 * (highest - clear);
  }

  #isOverlooked(hz: number, partials: number): boolean {
    const strongest = this.#strongestOf(Math.min(4, partials));
    for (const { places, half, needed } of BETWEEN) {
      let clear = 0;
      for (const place of places) {
        if (this.#isClear(place * hz, half * hz, strongest) && this.#isInPlace(place * hz)) clear++;
      }
      if (clear >= needed) return true;
    }
    return false;
  }

  /** Whether a partial stands at a frequency: above what lies `halfHz` below and above it, and not far below the strongest. */
  #isClear(hz: number, halfHz: number, strongest: number): boolean {
    if (halfHz < APART_BINS * this.#binHz) return false;
    const own = this.#peakPower(hz);
    if (own < WORTH * strongest) return false;
    return own > CLEAR * this.#meanPower(hz - halfHz) && own > CLEAR * this.#meanPower(hz + halfHz);
  }

  /** Whether what stands about a frequency lies there, and is not a partial of the last note, which still rings. */
  #isInPlace(hz: number): boolean {
    if (!this.#hasBefore) return true;
    const bin = peakNear(this.#binPowers, hz / this.#binHz);
    return bin >= 0 && Math.abs(this.#frequency(bin) / hz - 1) < IN_PLACE;
  }

  /** Power of the strongest bin near a frequency; 0 beyond the band. */
  #peakPower(hz: number): number {
    const bin = peakNear(this.#binPowers, hz / this.#binHz);
    return bin < 0 ? 0 : this.#binPowers[bin]!;
  }

  /** Mean power of the three bins about a frequency; endless beyond the band. */
  #meanPower(hz: number): number {
    const powers = this.#binPowers;
    const bin = nearest(hz / this.#binHz);
    if (bin > powers.length - 3) return Number.POSITIVE_INFINITY;
    const middle = Math.max(2, bin);
    return (powers[middle - 1]! + powers[middle]! + powers[middle + 1]!) / 3;
  }

  /** The strongest bin within a bin and within `reachHz` of a place; -1 beyond the band. */
  #peakWithin(place: number, reachHz: number): number {
    const middle = nearest(place);
    const reach = Math.max(1, nearest(reachHz / this.#binHz));
    if (middle > this.#bins - 3 - reach) return -1;
    let best = Math.max(2, middle - reach);
    let most = this.#binPowers[best]!;
    for (let bin = best + 1; bin <= middle + reach; bin++) {
      const one = this.#binPowers[bin]!;
      if (one > most) {
        most = one;
        best = bin;
      }
    }
    return best;
  }

  /** How far a bin's phase has turned since the window before, as a frequency, Hz. */
  #frequency(bin: number): number {
    const re = this.#re;
    const im = this.#im;
    const oldRe = this.#beforeRe;
    const oldIm = this.#beforeIm;
    const a = 0.5 * re[bin]! - 0.25 * (re[bin - 1]! + re[bin + 1]!);
    const b = 0.5 * im[bin]! - 0.25 * (im[bin - 1]! + im[bin + 1]!);
    const c = 0.5 * oldRe[bin]! - 0.25 * (oldRe[bin - 1]! + oldRe[bin + 1]!);
    const d = 0.5 * oldIm[bin]! - 0.25 * (oldIm[bin - 1]! + oldIm[bin + 1]!);
    const binHz = bin * this.#binHz;
    const turned = Math.atan2(b * c - a * d, a * c + b * d) - TURN * binHz * this.#hopSec;
    const wrapped = turned - TURN * Math.round(turned / TURN);
    return binHz + wrapped / (TURN * this.#hopSec);
  }
}

/** The whole number nearest to one from 0 to 2^31; as whole numbers of 32 bits they are quick to index with. */
function nearest(place: number): number {
  return (place + 0.5) | 0;
}

/** The strongest bin within a bin of a place; -1 beyond the band. */
function peakNear(powers: Float64Array, place: number): number {
  const middle = nearest(place);
  if (middle > powers.length - 4) return -1;
  if (middle < 2) return 2;
  let best = middle === 2 ? 2 : middle - 1;
  let most = powers[best]!;
  if (powers[middle]! > most) {
    most = powers[middle]!;
    best = middle;
  }
  return powers[middle + 1]! > most ? middle + 1 : best;
}
