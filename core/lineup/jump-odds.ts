import { BLEED_REACH_SEC, LAG_HZ } from './bleed-rows.ts';
import type { HeldSums } from './held-sums.ts';
import type { StepLikelihood, StepTest } from './step-test.ts';
import { REACH, USUAL, usualBy, WIDTH } from './usual-jumps.ts';

/** A moment at which a take's wave breaks. */
export interface WaveBreak {
  /** Session time by the clock that the witnesses are held against, s. */
  readonly atSec: number;
  readonly takeSec: number;
  /** How likely a cut makes it, over how many such come by chance in a second, nepers; see `soundBreaks`. */
  readonly evidence: number;
  /** What the wave says for a step of the take's time there, nepers, up to a constant; absent where nothing. */
  readonly amount?: StepLikelihood;
  /** How likely sound is doubled by a known amount, 0 to 1; the phases of partials alone tell the amount where absent. */
  readonly doubledLikely?: number;
}

/** A single sound that tells the clock, as a clap on its cue. */
export interface Mark {
  /** Session time, s. */
  readonly atSec: number;
  /** How much later than by the clock the take shows it, and its standard deviation, s. */
  readonly laterSec: number;
  readonly errorSec: number;
}

/** All that speaks for and against a jump of one take's clock, held against the clock as it is known. */
export interface JumpWitnesses {
  /** Session times between which a jump would be told, s. */
  readonly fromSec: number;
  readonly toSec: number;
  readonly notes?: StepTest | undefined;
  /** Whether notes were compared one by one, not in stretches. */
  readonly isNoteByNote?: boolean;
  readonly held?: HeldSums | undefined;
  readonly marks?: readonly Mark[] | undefined;
  readonly breaks?: readonly WaveBreak[] | undefined;
  /** Whether breaks were looked for at a session time. */
  readonly isScanned?: ((atSec: number) => boolean) | undefined;
}

/** How likely a clock jumps at one place. */
export interface PlaceOdds {
  /** Session time, s. */
  readonly atSec: number;
  /** Which side of it lies off the clock; where only notes tell, the one after. */
  readonly side: 'after' | 'before';
  readonly wave: WaveBreak | undefined;
  /** Probability of a jump here, 0 to 1. */
  readonly likely: number;
  /** Likelihood of a jump here over none, whatever its size, nepers, before anything is said of how rare jumps are. */
  readonly gain: number;
  /** How far off its side lies if it jumps: likeliest; mean, standard deviation, root of the mean square, s. */
  readonly likeliestOffSec: number;
  readonly offSec: number;
  readonly offErrorSec: number;
  readonly offRmsSec: number;
}

/** Share of takes that lose or double sound once, taken as known beforehand. */
const JUMP_LIKELY = 0.05;
/** Share of takes in whose beginning or end the player drowns what is heard elsewhere. */
const DROWNED_LIKELY = 0.05;
/** Share of jumps that break the wave nowhere that would be noticed: in rests, in noise, between two notes. */
const UNBROKEN = 0.5;
/** Sizes known to this, s, have one likeliest value; else their mean errs least. */
const EXACT_SEC = 0.002;
const MOST_PLACES = 24;
/** Where notes alone tell, they do so to about a note: places lie so far apart, s, or so many in all. */
const EVERY_SEC = 1;
const MOST_EVEN_PLACES = 120;
/** Each break beside as strong a one says that this take has clicks: so much of a jump's odds are theirs. */
const RIVAL_BREAK = 0.5;
/**
 * What notes may say at most for a jump at any place, nepers, and at a place that the wave names: players without any jump make up to 6 of
 * one somewhere by stretches of 4 s, and up to 2.4 note by note (26 takes of sampled notes; another 26: up to 4.6).
 */
const MOST_NOTES_GAIN = {
  inStretches: { anywhere: 4.5, atBreak: 7 },
  oneByOne: { anywhere: 12, atBreak: 12 },
} as const;
/**
 * Share of breaks at which the phases name a wrong amount, as by periods of a low note. On 8 takes of sampled notes two named one by more
 * than 3.5 nepers over the true one (contrabass, oboe); on 8 others one did, by 13 (contrabass), at which no notes could have told the jump.
 */
const AMOUNT_ASTRAY = 0.15;
/** How seldom doubled sound tells another amount, and from when on it is heard beside leakage. */
const DOUBLED_ASTRAY = 0.005;
const SURE_DOUBLED = 0.95;
const MOST_MARKS_GAIN = 4.5;
/** Notes are read every millisecond. */
const NOTES_STEP_SEC = 0.001;
const NOTES_HALF = Math.ceil(BLEED_REACH_SEC / NOTES_STEP_SEC) + 1;

/**
 * How likely a clock jumps, place by place, by all its witnesses together (Bayes' rule).
 *
 * For each place and each size of a jump the logarithms of the likelihoods over none are summed: of the guide's leakage held against the
 * clock (see `HeldSums`), of the notes' lateness, of claps, of the wave where it breaks, and of how rare jumps are and how
 * long buffers. What is heard of the leakage on one side of a place tells how high it should be on the other; where it is not,
 * it lies at another lag, or the player drowned it. A jump lies at a break of the wave or, in some cases, anywhere. Sums over 24
 * places and the breaks, their two sides where leakage is held, and 1537 sizes; time grows with the rows (400 rows: 10 ms).
 */
export function jumpOdds(witnesses: JumpWitnesses): PlaceOdds[] {
  const { held: sums, notes, marks = [], breaks = [], fromSec, toSec } = witnesses;
  const coarse = sums?.places(MOST_PLACES) ?? evenly(fromSec, toSec);
  const places = [
    ...coarse.map((atSec) => ({ atSec, wave: undefined })),
    ...breaks.map((wave) => ({ atSec: wave.atSec, wave })),
  ];
  const shares = timeShares(coarse, fromSec, toSec);
  const sides = sums === undefined ? (['after'] as const) : (['after', 'before'] as const);
  const gains = new Float64Array(WIDTH);
  const drowned: { readonly share: number; readonly gain: number }[] = [];
  const tried = places.flatMap(({ atSec, wave }, n) => {
    const share =
      wave === undefined
        ? shares[n]! * (witnesses.isScanned?.(atSec) ? UNBROKEN : 1)
        : breakShare(wave, breaks, toSec - fromSec);
    const byNotes = notes?.tableAt(atSec, NOTES_HALF, NOTES_STEP_SEC);
    const most = MOST_NOTES_GAIN[witnesses.isNoteByNote ? 'oneByOne' : 'inStretches'];
    const mostGain = wave === undefined ? most.anywhere : most.atBreak;
    const sound = sums?.at(atSec);
    // Leakage tells the size exactly where it tells it at all; the phases' word on it is off by its lobes, that of doubled sound is not.
    const doubled = wave?.doubledLikely ?? 0;
    const amount = sound === undefined || doubled > SURE_DOUBLED ? wave?.amount : undefined;
    const astray = Math.max(DOUBLED_ASTRAY, (1 - doubled) * AMOUNT_ASTRAY);
    return sides.map((side) => {
      const isOff = (mark: Mark): boolean => (side === 'after' ? mark.atSec > atSec : mark.atSec < atSec);
      const off = marks.filter(isOff);
      const sign = side === 'after' ? 1 : -1;
      setGains(gains, byNotes, sign, mostGain, off);
      sound?.addGains(side, gains);
      const odds = oddsOf(gains, amount && ((offSec) => amount(sign * offSec)), astray);
      if (wave === undefined && sound !== undefined)
        drowned.push({ share: shares[n]! / sides.length, gain: sound.drowned(side) });
      return { atSec, side, wave, share: share / sides.length, ...odds };
    });
  });
  const neither = 1 - JUMP_LIKELY - (sums === undefined ? 0 : DROWNED_LIKELY);
  // Loud leakage speaks with more nepers than a number holds: all are taken over the greatest.
  const most = [...tried, ...drowned].reduce((highest, one) => Math.max(highest, one.gain), 0);
  const over = (one: { readonly share: number; readonly gain: number }): number =>
    one.share * Math.exp(one.gain - most);
  const all =
    neither * Math.exp(-most) +
    DROWNED_LIKELY * drowned.reduce((sum, one) => sum + over(one), 0) +
    JUMP_LIKELY * tried.reduce((sum, one) => sum + over(one), 0);
  return tried.map(({ share, ...one }) => ({ ...one, likely: (JUMP_LIKELY * over({ share, gain: one.gain })) / all }));
}

/** A jump is taken for sure from this probability on, if its size is known to half of itself. Measured: none in 52 takes without jumps. */
const SURE = 0.75;
const SURE_SIZE = 0.5;
/** Leakage tells the moment to this, s, so that places about a break by which it jumps alike speak for the break too. */
const ABOUT_SEC = 3;
const ALIKE_SEC = 0.002;

/**
 * The likeliest jump, if it is to be taken for sure: one at a break of the wave, its two sides and what lies about it taken
 * together, whose size is told well enough that mending it leaves less than it takes away. least: the probability asked for.
 */
export function sureJump(odds: readonly PlaceOdds[], least = SURE): PlaceOdds | undefined {
  let chosen: PlaceOdds | undefined;
  for (const one of odds) {
    if (one.wave === undefined) continue;
    const other = odds.find((two) => two !== one && two.atSec === one.atSec && two.wave === one.wave);
    if (one.likely < (other?.likely ?? 0)) continue;
    const about = odds.filter((two) => two.wave === undefined && isAlike(one, two));
    const likely = about.reduce((sum, two) => sum + two.likely, one.likely + (other?.likely ?? 0));
    if (!(likely > (chosen?.likely ?? least)) || one.likely < likely / (2 + about.length)) continue;
    if (one.offErrorSec < SURE_SIZE * one.offRmsSec) chosen = { ...one, likely };
  }
  return chosen;
}

function isAlike(one: PlaceOdds, two: PlaceOdds): boolean {
  const apartSec = Math.abs(one.offSec - two.offSec);
  const isNear = Math.abs(one.atSec - two.atSec) < ABOUT_SEC && one.side === two.side;
  return isNear && apartSec < Math.hypot(one.offErrorSec, two.offErrorSec) + ALIKE_SEC;
}

/** What a break is worth as a place, where any place in a take is worth its share of the time. */
function breakShare(wave: WaveBreak, breaks: readonly WaveBreak[], lengthSec: number): number {
  const alone = Math.exp(wave.evidence) / Math.max(lengthSec, 1);
  const rivals = breaks.filter((other) => other !== wave && other.evidence > wave.evidence - 1).length;
  return 1 / (1 / alone + RIVAL_BREAK * rivals);
}

interface Odds {
  readonly gain: number;
  readonly likeliestOffSec: number;
  readonly offSec: number;
  readonly offErrorSec: number;
  readonly offRmsSec: number;
}

/** What the notes (a table, read between its entries) and marks of one side say for its lying off by each lag, over none, nepers. */
function setGains(
  gains: Float64Array,
  table: Float64Array | undefined,
  sign: number,
  mostGain: number,
  marks: readonly Mark[],
): void {
  let over = 0;
  if (table !== undefined) for (let n = 0; n < table.length; n++) over = Math.max(over, table[n]! - mostGain);
  for (let lag = 0; lag < WIDTH; lag++) {
    const offSec = (lag - REACH) / LAG_HZ;
    let noted = 0;
    if (table !== undefined) {
      const at = (sign * offSec) / NOTES_STEP_SEC + NOTES_HALF;
      const whole = Math.max(0, Math.min(table.length - 2, Math.floor(at)));
      noted = table[whole]! + (table[whole + 1]! - table[whole]!) * (at - whole) - over;
    }
    gains[lag] = marks.length === 0 ? noted : noted + marked(marks, offSec);
  }
}

/** Likelihood of any jump of one side over none, nepers, from what is said for each lag, and what the jump then is. */
function oddsOf(gains: Float64Array, amount: StepLikelihood | undefined, astray: number): Odds {
  const usual = amount === undefined ? USUAL : usualBy(amount, astray);
  let most = Number.NEGATIVE_INFINITY;
  for (let lag = 0; lag < WIDTH; lag++) if (USUAL[lag] !== 0 && gains[lag]! > most) most = gains[lag]!;
  let prior = 0;
  let sum = 0;
  let first = 0;
  let second = 0;
  let best = 0;
  let highest = -1;
  for (let lag = 0; lag < WIDTH; lag++) {
    if (usual[lag] === 0) continue;
    const offSec = (lag - REACH) / LAG_HZ;
    const weight = usual[lag]! * Math.exp(gains[lag]! - most);
    prior += usual[lag]!;
    sum += weight;
    first += weight * offSec;
    second += weight * offSec * offSec;
    if (weight <= highest) continue;
    highest = weight;
    best = offSec;
  }
  const mean = first / sum;
  const offRmsSec = Math.sqrt(second / sum);
  const offErrorSec = Math.sqrt(Math.max(0, second / sum - mean * mean));
  const offSec = offErrorSec < EXACT_SEC ? best : mean;
  return { gain: most + Math.log(sum / prior), likeliestOffSec: best, offSec, offErrorSec, offRmsSec };
}

/** What the marks on one side say for its lying off, over none, nepers. */
function marked(marks: readonly Mark[], offSec: number): number {
  let sum = 0;
  for (const mark of marks) sum += (offSec * (mark.laterSec - 0.5 * offSec)) / mark.errorSec ** 2;
  return Math.min(MOST_MARKS_GAIN, sum);
}

/** Places evenly over a time. */
function evenly(fromSec: number, toSec: number): number[] {
  const count = Math.max(MOST_PLACES, Math.min(MOST_EVEN_PLACES, Math.round((toSec - fromSec) / EVERY_SEC)));
  return Array.from({ length: count }, (_, n) => fromSec + ((n + 0.5) / count) * (toSec - fromSec));
}

/** What share of the time lies about each place. */
function timeShares(places: readonly number[], fromSec: number, toSec: number): number[] {
  return places.map((sec, n) => {
    const from = n === 0 ? fromSec : 0.5 * (places[n - 1]! + sec);
    const to = n + 1 === places.length ? toSec : 0.5 * (places[n + 1]! + sec);
    return (to - from) / Math.max(toSec - fromSec, 1e-9);
  });
}
