import { BLEED_REACH_SEC, LAG_HZ } from './bleed-rows.ts';
import { cubicAt } from './drift-stack.ts';
import { indexAfter, type Lateness, stepAt } from './step-test.ts';

/** A jump that a take's clock may make although none was found there. */
export interface JumpDoubt {
  /** Session time from which on, or up to which, the clock is in doubt, s. */
  readonly atSec: number;
  readonly side: 'after' | 'before';
  /** How likely it is, 0 to 1. */
  readonly likely: number;
  /** How far off that side then lies, root of the mean square, s. */
  readonly offSec: number;
}

/** The guide's leakage, row by row, held against a clock. */
export interface HeldRows {
  readonly rows: readonly Float64Array[];
  /** Session times, s. */
  readonly times: readonly number[];
  readonly variances: readonly number[];
  /** Where the clock lies in each row, lag steps. */
  readonly lags: readonly number[];
}

/** A single sound that tells the clock, as a clap on its cue. */
export interface Mark {
  /** Session time, s. */
  readonly atSec: number;
  /** How much later than by the clock the take shows it, and its standard deviation, s. */
  readonly laterSec: number;
  readonly errorSec: number;
}

/** Share of takes that lose or double sound once, taken as known beforehand, and how much of it, s: buffers are 10 to 40 ms long. */
const JUMP_LIKELY = 0.05;
const JUMP_SPREAD_SEC = 0.02;
/** Share of takes in whose beginning or end the player drowns what is heard elsewhere. */
const DROWNED_LIKELY = 0.05;
/** Smaller jumps are lobes of the correlation or none, s. */
const LEAST_JUMP_SEC = 0.001;
const MOST_PLACES = 24;
/** Notes tell a step no better than this, s, from no fewer stretches on a side. */
const NOTES_ERROR_SEC = 0.003;
const NOTES_SIDE = 2;
/** Players without any jump make up to 6 nepers of one somewhere: for a jump notes say no more than this at any place. */
const MOST_NOTES_GAIN = 4.5;
/** The clock is known to this many lag steps. */
const NEAR = 3;
const REACH = BLEED_REACH_SEC * LAG_HZ;
const WIDTH = 2 * REACH + 1;

/**
 * How likely a clock jumps unfound, place by place, by Bayes' rule.
 *
 * What is heard of the leakage along the clock on one side of a place tells how high it should be on the other. Where it is
 * not, it lies at another lag, or the player drowned it: for each jump the likelihood of the summed rows, their gain being
 * the one that fits best, is held against that of none and of a drowned side, and multiplied by how well the notes' own
 * step there agrees with it. lateness, marks: of notes and claps against the same clock. Sums over 2 x 24 places; time grows with the rows (400 rows: 10 ms).
 */
export function jumpDoubts(held: HeldRows, lateness: readonly Lateness[], marks: readonly Mark[] = []): JumpDoubt[] {
  const total = held.variances.reduce((sum, variance) => sum + variance, 0);
  const places = placesOf(held.variances, total);
  if (places.length === 0 || total <= 0) return [];
  const sums = sumsBetween(held, [0, ...places, held.rows.length]);
  const whole = new Float64Array(WIDTH);
  for (const sum of sums) addTo(whole, sum);
  const none = heightOf(valueNear(whole), total);
  const shares = timeShares(held.times, places);
  const head = new Float64Array(WIDTH);
  let passed = 0;
  const drowned = (kept: Float64Array, variance: number): number =>
    Math.exp(heightOf(valueNear(kept), variance) - none);
  const tried = places.flatMap((at, n) => {
    addTo(head, sums[n]!);
    for (let i = places[n - 1] ?? 0; i < at; i++) passed += held.variances[i]!;
    const tail = whole.map((value, lag) => value - head[lag]!);
    const atSec = 0.5 * (held.times[at - 1]! + held.times[at]!);
    const notes = notesAt(lateness, atSec);
    const after = oddsOf(
      valueNear(head),
      tail,
      (offSec) => notes(offSec) + marked(marks, (mark) => mark.atSec > atSec, offSec) - none,
      total,
    );
    const before = oddsOf(
      valueNear(tail),
      head,
      (offSec) => notes(-offSec) + marked(marks, (mark) => mark.atSec < atSec, offSec) - none,
      total,
    );
    return [
      { atSec, side: 'after' as const, share: shares[n]!, drowned: drowned(head, passed), ...after },
      { atSec, side: 'before' as const, share: shares[n]!, drowned: drowned(tail, total - passed), ...before },
    ];
  });
  const neither = 1 - JUMP_LIKELY - DROWNED_LIKELY;
  const all = tried.reduce(
    (sum, one) => sum + one.share * (JUMP_LIKELY * one.odds + DROWNED_LIKELY * one.drowned),
    neither,
  );
  return tried.map(({ atSec, side, share, odds, offSec }) => {
    return { atSec, side, likely: (share * JUMP_LIKELY * odds) / all, offSec };
  });
}

/** Mean square of how far a clock may lie off at a session time by jumps that were not found, s^2. */
export function doubtAt(doubts: readonly JumpDoubt[], sessionSec: number): number {
  return doubts.reduce((sum, { atSec, side, likely, offSec }) => {
    const isIn = side === 'after' ? sessionSec > atSec : sessionSec < atSec;
    return isIn ? sum + likely * offSec * offSec : sum;
  }, 0);
}

/** Half the square of a height, nepers. */
function heightOf(value: number, variance: number): number {
  return (0.5 * Math.max(0, value) ** 2) / variance;
}

/** The odds of any jump of one side over none, and the jump's root mean square, s. */
function oddsOf(
  kept: number,
  side: Float64Array,
  beside: (offSec: number) => number,
  total: number,
): { odds: number; offSec: number } {
  let odds = 0;
  let squares = 0;
  let prior = 0;
  for (let lag = 0; lag < WIDTH; lag++) {
    const offSec = (lag - REACH) / LAG_HZ;
    if (Math.abs(offSec) < LEAST_JUMP_SEC) continue;
    const usual = Math.exp(-Math.abs(offSec) / JUMP_SPREAD_SEC);
    const likely = usual * Math.exp(heightOf(kept + side[lag]!, total) + beside(offSec));
    prior += usual;
    odds += likely;
    squares += likely * offSec * offSec;
  }
  return { odds: odds / prior, offSec: Math.sqrt(squares / Math.max(odds, Number.MIN_VALUE)) };
}

/** What the notes say for a step of the take's time at a place, over none, nepers. */
function notesAt(lateness: readonly Lateness[], atSec: number): (stepSec: number) => number {
  const index = indexAfter(lateness, atSec);
  const isTold = index >= NOTES_SIDE && index <= lateness.length - NOTES_SIDE;
  const step = isTold ? stepAt(lateness, index, []) : undefined;
  if (step === undefined) return () => 0;
  const errorSec = Math.hypot(step.stepErrorSec, NOTES_ERROR_SEC);
  const most = 0.5 * (step.stepSec / errorSec) ** 2;
  return (stepSec) => Math.min(MOST_NOTES_GAIN, most - 0.5 * ((step.stepSec - stepSec) / errorSec) ** 2);
}

/** What the marks on one side say for its lying off, over none, nepers. */
function marked(marks: readonly Mark[], isThere: (mark: Mark) => boolean, offSec: number): number {
  let sum = 0;
  for (const mark of marks) {
    if (isThere(mark)) sum += (offSec * (mark.laterSec - 0.5 * offSec)) / mark.errorSec ** 2;
  }
  return Math.min(MOST_NOTES_GAIN, sum);
}

/** Indexes of rows, so that about as much can be heard between each and the next. */
function placesOf(variances: readonly number[], total: number): number[] {
  const places: number[] = [];
  let passed = 0;
  for (let i = 0; i + 1 < variances.length && places.length < MOST_PLACES; i++) {
    passed += variances[i]!;
    if (passed * (MOST_PLACES + 1) >= (places.length + 1) * total) places.push(i + 1);
  }
  return places;
}

/** What share of the time lies about each place, halved between its two sides. */
function timeShares(times: readonly number[], places: readonly number[]): number[] {
  const at = places.map((place) => 0.5 * (times[place - 1]! + times[place]!));
  const [first, last] = [times[0]!, times.at(-1)!];
  return at.map((sec, n) => {
    const from = n === 0 ? first : 0.5 * (at[n - 1]! + sec);
    const to = n + 1 === at.length ? last : 0.5 * (at[n + 1]! + sec);
    return (0.5 * (to - from)) / Math.max(last - first, 1e-9);
  });
}

/** Rows between borders summed along the clock, which lies in the middle of each sum. */
function sumsBetween({ rows, lags }: HeldRows, borders: readonly number[]): Float64Array[] {
  return borders.slice(1).map((to, n) => {
    const sum = new Float64Array(WIDTH);
    for (let i = borders[n]!; i < to; i++) {
      const shift = lags[i]! - REACH;
      for (let lag = 0; lag < WIDTH; lag++) sum[lag]! += cubicAt(rows[i]!, lag + shift);
    }
    return sum;
  });
}

function addTo(sum: Float64Array, other: Float64Array): void {
  for (let lag = 0; lag < WIDTH; lag++) sum[lag]! += other[lag]!;
}

function valueNear(sum: Float64Array): number {
  return Math.max(...sum.subarray(REACH - NEAR, REACH + NEAR + 1));
}
