import { medianOfRow } from './rank.ts';

/** What a stretch of a track says of its pitch. */
export interface SpanPitch {
  /** Centre of the pitch, cents above A4 = 440 Hz. See `centreOf`. */
  readonly cents: number;
  /** How far the pitch moves about it, cents, robust standard deviation. */
  readonly spreadCents: number;
  /** One standard deviation of `cents`. */
  readonly uncertaintyCents: number;
  /** How far the second half lies above the first, cents. */
  readonly riseCents: number;
  readonly vibrato: Vibrato | null;
  /** Of the stretch that was steady enough to be measured. */
  readonly steadySec: number;
}

export interface Vibrato {
  readonly rateHz: number;
  /** From the centre to the top, cents. */
  readonly extentCents: number;
}

/** What the pitch of a stretch is read from. */
export interface PitchRow {
  readonly hopSec: number;
  readonly firstSec: number;
  /** Hz; NaN where there is none. */
  readonly hz: Float64Array;
}

/** The beginning and end of a note are left out: the window reaches 43 ms beyond a frame, and attacks glide. */
const ATTACK_SEC = 0.09;
const RELEASE_SEC = 0.05;
/** Of short notes no more than these shares are left out. */
const ATTACK_SHARE = 0.3;
const RELEASE_SHARE = 0.2;
const FEWEST_FRAMES = 5;
/** Farther from the median is another note or an octave error, cents. */
const OUTLYING_CENTS = 90;
/** Vibrato of singers and players: 4 to 8 Hz. Source: Seashore 1938, Psychology of Music (5 to 7 Hz usual). */
const SLOWEST_VIBRATO_HZ = 4;
const FASTEST_VIBRATO_HZ = 8;
const LEAST_VIBRATO_CENTS = 4;
const LEAST_LIKENESS = 0.45;
const ALMOST_AS_LIKE = 0.85;
/**
 * The tracker's window smooths a vibrato of f Hz to exp(-(f / 14.9)^2) of its extent; given back. Measured from 4 to 8 Hz at
 * 15 and 40 cents: within 3 %, 11 % where 40 cents at 8 Hz meet partials of 2 kHz.
 */
const SMOOTHED_HZ = 14.9;
/**
 * What a centre is unsure by, one standard deviation; the parts add as squares. `LEAST_CENTS`: nothing is said to be surer, since a
 * piano's strings and an organ's pipes have no one pitch to within 2 cents: two long readings of the dry note differ by as much. `RINGING`, cents s^2 Hz: into the beginning of a note the
 * last one rings and pulls at partials that stand close; over pitch and the square of the steady time. `SPREAD`: of a note without vibrato, of its
 * spread over the root of independent values. `SWING`: of the extent of a vibrato, whose turns a room smears alike in each cycle.
 * `WANDERING`: of the difference between its halves. Robust fit (Student's t of 3 degrees of freedom, each player counting alike) by
 * test/bench/fit-doubts.ts on 2716 notes of 25 sampled players, 0.15 to 1.5 s, detuned by up to 35 cents, with a vibrato of up to 60 and without, in
 * rooms of 0.25 to 0.8 s, 12 to 36 dB SNR, against the same notes dry by our reading and by two long ones; the least raised for pianos
 * and organs. The data hold the parts loosely against each other: by another search the same fit gave 2.9, 0.98, 0.10 and 0.33, by the script 1.8, 1.4,
 * 0.12 and 0.29, both with a least of 0; these were chosen among the former's neighbours on those players. On 12 players held out, 1348 notes, the truth lies within two deviations in 96.4 %
 * (94.5 % by long readings; 95 to 99 % of each length, 89 % of keyed ones and 85 % of a choir's); before in 94.0 % (90.9 %), but in 85 % with
 * vibrato and 86 % (77 %) of notes of 1.2 s.
 */
const LEAST_CENTS = 1;
const RINGING = 2.9;
const SPREAD = 0.9;
const SWING = 0.1;
const WANDERING = 0.32;
/**
 * How a note's centre is taken, measured on 311 sampled notes in a room at 20 dB SNR: within 2 cents of the same notes dry 94.2 % so,
 * 92.3 % by the median, 92.9 % by the mean over whole cycles of the vibrato where one is heard and the median elsewhere; of what
 * autocorrelation and long spectra say of the dry notes 92.3, 88.4 and 90.0 %.
 */
const CUT_SHARE = 0.2;
const FARTHEST_SPREADS = 3;
const LEAST_SPREAD_CENTS = 3;
/** Frames overlap: one independent value in this time, s. */
const INDEPENDENT_SEC = 0.085;

/** Cents above A4 = 440 Hz. */
export function centsOf(hz: number): number {
  return 1200 * Math.log2(hz / 440);
}

/** Hz of a pitch in cents above A4 = 440 Hz. */
export function hzOf(cents: number): number {
  return 440 * 2 ** (cents / 1200);
}

/** Median of numbers; NaN of none. Sorts a copy. */
export function medianOf(values: readonly number[]): number {
  return medianOfRow(new Float64Array(values));
}

/**
 * Centre of a row in time: a mean that counts its middle most (a half sine over time, so that half a cycle of a vibrato at
 * either end hardly moves it), without what lies farther than three robust deviations from the mean of its middle three fifths.
 * sorted: the same row, sorted.
 */
function centreOf(row: Float64Array, sorted: Float64Array): number {
  const cut = Math.floor(CUT_SHARE * sorted.length);
  let middle = 0;
  for (let n = cut; n < sorted.length - cut; n++) middle += sorted[n]! / (sorted.length - 2 * cut);
  const farthest = FARTHEST_SPREADS * Math.max(LEAST_SPREAD_CENTS, spreadOfRow(row, middle));
  let sum = 0;
  let weights = 0;
  for (let n = 0; n < row.length; n++) {
    if (Math.abs(row[n]! - middle) > farthest) continue;
    const weight = Math.sin((Math.PI * (n + 0.5)) / row.length);
    sum += weight * row[n]!;
    weights += weight;
  }
  return sum / weights;
}

/** Robust standard deviation: 1.4826 times the median distance from the centre. */
export function spreadOf(values: readonly number[], centre: number): number {
  return spreadOfRow(new Float64Array(values), centre);
}

function spreadOfRow(values: Float64Array, centre: number): number {
  const distances = new Float64Array(values.length);
  for (let n = 0; n < values.length; n++) distances[n] = Math.abs(values[n]! - centre);
  return values.length === 0 ? 0 : 1.4826 * medianOfRow(distances);
}

/**
 * The pitch of a stretch in which one note sounds. nearCents: only frames within 90 cents of it count (the score's note);
 * absent: of their own median. Undefined where fewer than five frames, or less than a third of the stretch, have a pitch.
 * fromSec, toSec: s of the take.
 */
export function pitchOfSpan(row: PitchRow, fromSec: number, toSec: number, nearCents?: number): SpanPitch | undefined {
  const length = toSec - fromSec;
  const from = fromSec + Math.min(ATTACK_SEC, ATTACK_SHARE * length);
  const to = toSec - Math.min(RELEASE_SEC, RELEASE_SHARE * length);
  const first = Math.max(0, Math.ceil((from - row.firstSec) / row.hopSec));
  const last = Math.min(row.hz.length - 1, Math.floor((to - row.firstSec) / row.hopSec));
  const near = nearFrames(row.hz, first, last, nearCents);
  if (near.length < FEWEST_FRAMES || 3 * near.length < last - first + 1) return undefined;
  const sorted = near.slice();
  const median = medianOfRow(sorted);
  const spreadCents = spreadOfRow(near, median);
  const steadySec = near.length * row.hopSec;
  const vibrato = vibratoOf(near, row.hopSec);
  const moving =
    vibrato === null
      ? (SPREAD * spreadCents) / Math.sqrt(Math.max(1, steadySec / INDEPENDENT_SEC))
      : SWING * vibrato.extentCents;
  const ringing = RINGING / (hzOf(median) * steadySec ** 2);
  const riseCents = betweenHalves(near);
  const uncertaintyCents = Math.hypot(LEAST_CENTS, ringing, moving, WANDERING * riseCents);
  return { cents: centreOf(near, sorted), spreadCents, uncertaintyCents, riseCents, vibrato, steadySec };
}

/** Cents of the frames from one to another, both with, that have a pitch and lie near one; absent: near their own median. */
function nearFrames(hz: Float64Array, first: number, last: number, nearCents: number | undefined): Float64Array {
  const row = new Float64Array(Math.max(0, last - first + 1));
  let count = 0;
  for (let n = first; n <= last; n++) if (!Number.isNaN(hz[n]!)) row[count++] = centsOf(hz[n]!);
  const middle = nearCents ?? medianOfRow(row.slice(0, count));
  let near = 0;
  for (let n = 0; n < count; n++) if (Math.abs(row[n]! - middle) <= OUTLYING_CENTS) row[near++] = row[n]!;
  return row.subarray(0, near);
}

/** How far the mean of the second half of a row lies from that of the first. */
function betweenHalves(row: Float64Array): number {
  const middle = row.length >> 1;
  let difference = 0;
  for (let n = 0; n < row.length; n++) {
    difference += n < middle ? -row[n]! / middle : row[n]! / (row.length - middle);
  }
  return difference;
}

/**
 * Vibrato of a row of cents: the first peak of its normalised autocorrelation between 4 and 8 Hz, its slow trend taken out;
 * null where it repeats too little, moves too little or lasts less than two cycles.
 */
export function vibratoOf(cents: readonly number[] | Float64Array, hopSec: number): Vibrato | null {
  const count = cents.length;
  const longest = Math.round(1 / (SLOWEST_VIBRATO_HZ * hopSec));
  if (count < 1.7 * longest) return null;
  const moving = withoutTrend(new Float64Array(cents));
  let power = 0;
  for (let n = 0; n < count; n++) power += moving[n]! * moving[n]!;
  const extentCents = Math.sqrt((2 * power) / count);
  if (extentCents < LEAST_VIBRATO_CENTS) return null;
  const shortest = Math.round(1 / (FASTEST_VIBRATO_HZ * hopSec)) - 1;
  const lag = cycleOf(likenesses(moving, shortest - 1, longest + 1)) + shortest - 1;
  if (lag < shortest) return null;
  const rateHz = 1 / (lag * hopSec);
  return { rateHz, extentCents: extentCents * Math.exp((rateHz / SMOOTHED_HZ) ** 2) };
}

/** How alike a row is to itself each lag later, from one to another, both with. */
function likenesses(moving: Float64Array, from: number, to: number): Float64Array {
  const likeness = new Float64Array(to - from + 1);
  for (let lag = from; lag <= to; lag++) {
    let products = 0;
    let squares = 1e-12;
    for (let n = 0; n + lag < moving.length; n++) {
      const one = moving[n]!;
      const other = moving[n + lag]!;
      products += one * other;
      squares += 0.5 * (one * one + other * other);
    }
    likeness[lag - from] = products / squares;
  }
  return likeness;
}

/** Place of the peak that is one cycle, not among the ends; -1 where there is none. */
function cycleOf(likeness: Float64Array): number {
  let most = 0;
  for (let n = 1; n < likeness.length - 1; n++) if (isPeak(likeness, n)) most = Math.max(most, likeness[n]!);
  // Two cycles repeat as well as one does: the first that is nearly as good is one.
  for (let n = 1; n < likeness.length - 1; n++) {
    if (isPeak(likeness, n) && likeness[n]! >= ALMOST_AS_LIKE * most) return n;
  }
  return -1;
}

function isPeak(likeness: Float64Array, n: number): boolean {
  const here = likeness[n]!;
  return here >= LEAST_LIKENESS && here >= likeness[n - 1]! && here >= likeness[n + 1]!;
}

/** Takes the straight line out of a row, in place. */
function withoutTrend(values: Float64Array): Float64Array {
  const middle = (values.length - 1) / 2;
  let mean = 0;
  for (let n = 0; n < values.length; n++) mean += values[n]!;
  mean /= values.length;
  let products = 0;
  let squares = 1e-12;
  for (let n = 0; n < values.length; n++) {
    products += (n - middle) * values[n]!;
    squares += (n - middle) ** 2;
  }
  for (let n = 0; n < values.length; n++) values[n] = values[n]! - mean - (products / squares) * (n - middle);
  return values;
}
