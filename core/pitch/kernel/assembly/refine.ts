/**
 * Fine pitch from the partials' phases, and what speaks for and against it: the sums of core/pitch/harmonic-refiner.ts, which says where
 * each number comes from, in the same order.
 */

import { room } from './room';

const PARTIALS: i32 = 8;
const COUNTED_PARTIALS: i32 = 64;
const ALIKE: f64 = 0.01;
const COARSE: f64 = 0.02;
const FARTHEST: f64 = 0.03;
const MOST_COVERED: f64 = 0.8;
const LEAST_REST: f64 = 0.003;
const ALONE: f64 = 0.003;
const HOLE: f64 = 0.02;
const STRONG: f64 = 0.005;
const FAINT: f64 = 0.005;
const ALMOST_ALL: f64 = 0.9;
const CLEAR: f64 = 10;
const WORTH: f64 = 1.6e-4;
const APART_BINS: f64 = 3;
const IN_PLACE: f64 = 0.015;
const TURN: f64 = 2 * NativeMath.PI;

/** Bytes of a refiner's own numbers: powers of the counted partials, what the first ones say the pitch is, and how strong they are. */
export const OWN_BYTES: usize = 704;
const TOLD: usize = 544;
const STRENGTHS: usize = 624;

/** What a refinement found: eight double numbers in this order; the last, a probability, is the caller's. */
export const RECORD: usize = 64;
export const HZ: usize = 0;
export const SHARE: usize = 8;
export const REST: usize = 16;
export const ALONE_SHARE: usize = 24;
export const HOLLOW: usize = 32;
export const OVERLOOKED: usize = 40;
export const STANDING: usize = 48;
export const PROBABILITY: usize = 56;

let re: usize = 0;
let im: usize = 0;
let oldRe: usize = 0;
let oldIm: usize = 0;
let powers: usize = 0;
let own: usize = 0;
let bins: i32 = 0;
let binHz: f64 = 1;
let hopSec: f64 = 1;
let hasBefore: bool = false;
/** Frequency of each bin, where it was asked for in this turn, and that turn; 16 bytes each. */
let frequencies: usize = 0;
let turn: i32 = 0;

/** mostBins: of any window. */
export function planRefine(mostBins: i32): void {
  frequencies = room(<usize>mostBins << 4);
}

/** Size of the windows to come and what is kept of them; binsApart, hopApartSec: of a bin in Hz, of windows in s. */
export function useWindows(ownNumbers: usize, binCount: i32, binsApartHz: f64, hopApartSec: f64): void {
  own = ownNumbers;
  bins = binCount;
  binHz = binsApartHz;
  hopSec = hopApartSec;
}

/** The window, and the spectrum of the one before (isFirst: there is none). imBehind: bytes from real to imaginary parts. */
export function useSpectra(now: usize, before: usize, imBehind: usize, binPowers: usize, isFirst: bool): void {
  re = now;
  im = now + imBehind;
  oldRe = before;
  oldIm = before + imBehind;
  powers = binPowers;
  hasBefore = !isFirst;
  turn++;
}

/** Refines a pitch near `coarseHz`; whole: sum of all bins' powers. Writes a record, but for its probability. */
export function refine(coarseHz: f64, whole: f64, record: usize): void {
  let weights: f64 = 0;
  let sum: f64 = 0;
  let power: f64 = 0;
  let partials = 0;
  // What the lower partials say steers the search for the higher ones.
  let toldHz = coarseHz;
  for (let number = 1; number <= COUNTED_PARTIALS; number++) {
    const expected = <f64>number * toldHz;
    const bin = number == 1 ? peakWithin(expected / binHz, COARSE * expected) : peakNear(expected / binHz);
    if (bin < 0) break;
    const place = powers + (<usize>bin << 3);
    const strength = load<f64>(place);
    const about = strength + load<f64>(place - 8) + load<f64>(place, 8);
    power += about;
    store<f64>(own + (<usize>number << 3), about);
    partials = number;
    if (number > PARTIALS) continue;
    store<f64>(own + (<usize>number << 3), 0, STRENGTHS);
    if (!hasBefore) continue;
    const hz = frequency(bin) / <f64>number;
    if (abs(hz / coarseHz - 1) > FARTHEST) continue;
    store<f64>(own + (<usize>number << 3), hz, TOLD);
    store<f64>(own + (<usize>number << 3), strength, STRENGTHS);
    weights += strength * <f64>number;
    sum += strength * <f64>number * hz;
    if (weights > 0) toldHz = sum / weights;
  }
  const hz = weights > 0 ? agreed(min(PARTIALS, partials)) : coarseHz;
  const share = min<f64>(1, power / whole);
  store<f64>(record, hz, HZ);
  store<f64>(record, share, SHARE);
  judgePattern(partials, power, hz, record);
  store<f64>(record, isOverlooked(hz, partials) ? 1 : 0, OVERLOOKED);
  store<f64>(record, standing(hz, partials), STANDING);
  const covered = <f64>partials * min<f64>(3, MOST_COVERED * (coarseHz / binHz));
  store<f64>(record, max<f64>(LEAST_REST, 1 - share) / max<f64>(1, <f64>bins - covered), REST);
}

// @ts-ignore: decorator
@inline function ownAt(n: i32): f64 { return load<f64>(own + (<usize>n << 3)); }

/** The strongest of the first so many counted partials, none of which may lie beyond the band: there the last pitch's still stand. */
function strongestOf(count: i32): f64 {
  let most: f64 = 0;
  for (let n = 1; n <= count; n++) most = max<f64>(most, ownAt(n));
  return most;
}

/** The pitch that the first partials tell together. */
function agreed(partials: i32): f64 {
  let strongest: f64 = 0;
  for (let n = 1; n <= partials; n++) strongest = max<f64>(strongest, load<f64>(own + (<usize>n << 3), STRENGTHS));
  let weights: f64 = 0;
  let sum: f64 = 0;
  for (let n = 1; n <= partials; n++) {
    const strength = load<f64>(own + (<usize>n << 3), STRENGTHS);
    const likeness = strength / (strength + ALIKE * strongest);
    const weight = sqrt<f64>(<f64>n) * (likeness * likeness);
    weights += weight;
    sum += weight * load<f64>(own + (<usize>n << 3), TOLD);
  }
  return sum / weights;
}

/** Partials that stand alone, and whether the pattern is hollow. */
function judgePattern(partials: i32, power: f64, hz: f64, record: usize): void {
  const strongest = strongestOf(partials);
  let alone: f64 = 0;
  let holes = 0;
  for (let n = 2; n < partials; n++) {
    const below = ownAt(n - 1);
    const here = ownAt(n);
    const above = ownAt(n + 1);
    if (max<f64>(below, above) < ALONE * here && !hasClearNeighbour(n, hz, strongest)) alone += here;
    const beside = min<f64>(below, above);
    if (beside > STRONG * strongest && here < HOLE * beside) holes++;
  }
  store<f64>(record, power > 0 ? alone / power : 0, ALONE_SHARE);
  const faint = FAINT * power;
  const isHollow = strongest < ALMOST_ALL * power && ownAt(1) < faint && (ownAt(2) < faint || holes > 0);
  store<f64>(record, isHollow ? 1 : 0, HOLLOW);
}

function hasClearNeighbour(n: i32, hz: f64, strongest: f64): bool {
  return isClear(<f64>(n - 1) * hz, 0.5 * hz, strongest) || isClear(<f64>(n + 1) * hz, 0.5 * hz, strongest);
}

/** Of the first partials those that stand clear, less half of those that do not below the highest that does. */
function standing(hz: f64, partials: i32): f64 {
  const strongest = strongestOf(min(PARTIALS, partials));
  let clear = 0;
  let highest = 0;
  for (let n = 1; n <= PARTIALS; n++) {
    if (!isClear(<f64>n * hz, 0.5 * hz, strongest)) continue;
    clear++;
    highest = n;
  }
  return <f64>clear - 0.5 * <f64>(highest - clear);
}

/** Whether partials of the pitch's half, or of its third, stand between its own. */
function isOverlooked(hz: f64, partials: i32): bool {
  const strongest = strongestOf(min(4, partials));
  let clear = 0;
  for (let n = 0; n < 4; n++) if (standsAt((<f64>n + 0.5) * hz, 0.25 * hz, strongest)) clear++;
  if (clear >= 2) return true;
  const sixth = (1.0 / 6.0) * hz;
  if (!standsAt((1.0 / 3.0) * hz, sixth, strongest)) clear = 0;
  else clear = 1;
  if (standsAt((2.0 / 3.0) * hz, sixth, strongest)) clear++;
  if (standsAt((4.0 / 3.0) * hz, sixth, strongest)) clear++;
  if (standsAt((5.0 / 3.0) * hz, sixth, strongest)) clear++;
  return clear >= 3;
}

function standsAt(hz: f64, halfHz: f64, strongest: f64): bool {
  return isClear(hz, halfHz, strongest) && isInPlace(hz);
}

/** Whether a partial stands at a frequency: above what lies `halfHz` below and above it, and not far below the strongest. */
function isClear(hz: f64, halfHz: f64, strongest: f64): bool {
  if (halfHz < APART_BINS * binHz) return false;
  const bin = peakNear(hz / binHz);
  const here: f64 = bin < 0 ? 0 : load<f64>(powers + (<usize>bin << 3));
  if (here < WORTH * strongest) return false;
  return here > CLEAR * meanPower(hz - halfHz) && here > CLEAR * meanPower(hz + halfHz);
}

/** Whether what stands about a frequency lies there, and is not a partial of the last note, which still rings. */
function isInPlace(hz: f64): bool {
  if (!hasBefore) return true;
  const bin = peakNear(hz / binHz);
  return bin >= 0 && abs(frequency(bin) / hz - 1) < IN_PLACE;
}

/** Mean power of the three bins about a frequency; endless beyond the band. */
function meanPower(hz: f64): f64 {
  const bin = <i32>(hz / binHz + 0.5);
  if (bin > bins - 3) return Infinity;
  const place = powers + (<usize>max(2, bin) << 3);
  return (load<f64>(place - 8) + load<f64>(place) + load<f64>(place, 8)) / 3;
}

/** The strongest bin within a bin and within `reachHz` of a place; -1 beyond the band. */
function peakWithin(place: f64, reachHz: f64): i32 {
  const middle = <i32>(place + 0.5);
  const reach = max(1, <i32>(reachHz / binHz + 0.5));
  if (middle > bins - 3 - reach) return -1;
  let best = max(2, middle - reach);
  let most = load<f64>(powers + (<usize>best << 3));
  for (let bin = best + 1; bin <= middle + reach; bin++) {
    const one = load<f64>(powers + (<usize>bin << 3));
    if (one > most) {
      most = one;
      best = bin;
    }
  }
  return best;
}

/** The strongest bin within a bin of a place; -1 beyond the band. */
function peakNear(place: f64): i32 {
  const middle = <i32>(place + 0.5);
  if (middle > bins - 4) return -1;
  if (middle < 2) return 2;
  const at = powers + (<usize>middle << 3);
  const here = load<f64>(at);
  const below: f64 = middle == 2 ? -1 : load<f64>(at - 8);
  const best = here > below ? middle : middle - 1;
  return load<f64>(at, 8) > max<f64>(here, below) ? middle + 1 : best;
}

/** How far a bin's phase has turned since the window before, as a frequency, Hz; reckoned once a window. */
function frequency(bin: i32): f64 {
  const known = frequencies + (<usize>bin << 4);
  if (load<i32>(known, 8) == turn) return load<f64>(known);
  const hz = turnedFrequency(bin);
  store<f64>(known, hz);
  store<i32>(known, turn, 8);
  return hz;
}

function turnedFrequency(bin: i32): f64 {
  const at = <usize>bin << 3;
  const a = hannBin(re + at);
  const b = hannBin(im + at);
  const c = hannBin(oldRe + at);
  const d = hannBin(oldIm + at);
  const hz = <f64>bin * binHz;
  const turned = NativeMath.atan2(b * c - a * d, a * c + b * d) - TURN * hz * hopSec;
  const wrapped = turned - TURN * floor<f64>(turned / TURN + 0.5);
  return hz + wrapped / (TURN * hopSec);
}

// @ts-ignore: decorator
@inline function hannBin(at: usize): f64 { return 0.5 * load<f64>(at) - 0.25 * (load<f64>(at - 8) + load<f64>(at, 8)); }
