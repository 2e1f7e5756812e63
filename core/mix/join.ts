import type { Sound } from '../signal/sound.ts';
import { type Heard, HOP_SEC, hear, levelAt, percentile } from './join-hearing.ts';

/** The two sounds that meet at a join, both on the session's time line and at one rate. */
export interface JoinPair {
  readonly left: Sound;
  readonly right: Sound;
  /** How loud the music of each is as a whole, dB re full-scale power or LUFS; null where that is not known. */
  readonly leftDb: number | null;
  readonly rightDb: number | null;
}

/** What is at a place where two takes could be joined: a rest, the moment before a note, or the middle of a tone. */
export type JoinKind = 'rest' | 'beginning' | 'held';

/** A place where two takes can be joined. */
export interface JoinPoint {
  readonly atSec: number;
  readonly kind: JoinKind;
  /** Smaller is better; 0 is a rest at the wished time. Only for comparing points of one search. */
  readonly cost: number;
}

/** How two takes are joined at one place. */
export interface JoinMatch {
  readonly kind: JoinKind;
  /** Length of the crossfade, whose middle is the join; LEAST_FADE_SEC to LONGEST_FADE_SEC. */
  readonly fadeSec: number;
  /** By how much the left take is louder than the right one around the join, dB; null where that cannot be told. */
  readonly stepDb: number | null;
  /** By how much the left take is brighter: its difference above 1.2 kHz less that below, dB; 0 where that cannot be told. */
  readonly tiltDb: number;
  /** How alike the two waves are within the fade, -1 to 1, -0.25 at least: what the crossfade has to allow for. */
  readonly likeness: number;
}

export const LEAST_FADE_SEC = 0.005;
export const LONGEST_FADE_SEC = 0.12;
/** A join is looked for this far around the wished time, s. */
const REACH_SEC = 0.6;
/** Music this far below the loud moments around it is a rest, dB. */
const REST_DB = 24;
const LEAST_REST_SEC = 0.05;
/** Before a note the join lies so long before the earlier of its two beginnings, s: a short fade fits in between. */
const AHEAD_SEC = 0.012;
/** Beginnings in two takes closer than this are of one note, s. */
const SAME_NOTE_SEC = 0.09;
/** Between a fade and the nearest beginning of a note, s. */
const CLEAR_SEC = 0.003;
/** Levels are compared this far around a join, s. */
const COMPARE_SEC = 2;
/** Only what is within this of the loud moments counts as music when levels are compared, dB. */
const GATE_DB = 18;
const MOST_STEP_DB = 18;
/** More difference in tone than this is another instrument or a blanket over the microphone: only so much is matched, dB. */
const MOST_TILT_DB = 6;
/** Music above 1.2 kHz stands out of its noise by this, or is within this of what is below, dB. */
const OVER_NOISE_DB = 10;
const OVERTONES_DB = 25;
/** A stretch this far below a take's music holds none, dB. */
const NO_MUSIC_DB = 22;
/** A fade as short as this before a note may dip for a moment, which the note covers, but not flare up, s. */
const COVERED_SEC = 0.025;
/** Fewer values than this, 100 ms, do not tell a level. */
const LEAST_COMPARED = 20;
const SAME_MOMENT_DB = 4;
/** Variance in time that a slope has to overcome, s^2: notes on one side of a join only say little of a slope. */
const SLOPE_CAUTION = 0.04;
/** In a held tone the place where the two waves are most alike is looked for so far around the wished time, and so densely, s. */
const HELD_REACH_SEC = 0.2;
const HELD_STEP_SEC = 0.02;

/**
 * Places near a wished session time where two takes can be joined, best first: rests, then the moments before notes that
 * both takes begin, then the middle of a tone next to the wished time where the two waves are most alike, so
 * that they do not cancel.
 */
export function joinPoints(pair: JoinPair, wishedSec: number, reachSec = REACH_SEC): JoinPoint[] {
  const fromSec = wishedSec - reachSec - COMPARE_SEC;
  const toSec = wishedSec + reachSec + COMPARE_SEC;
  const left = hear(pair.left, fromSec, toSec);
  const right = hear(pair.right, fromSec, toSec);
  const depth = depthOf(pair, left, right);
  const farness = (atSec: number): number => Math.abs(atSec - wishedSec) / reachSec;
  const isNear = (atSec: number): boolean => farness(atSec) <= 1;
  const points: JoinPoint[] = [];
  for (const rest of restsOf(left, depth)) {
    const margin = Math.min(0.02, (rest.toSec - rest.fromSec) / 2);
    const atSec = Math.max(rest.fromSec + margin, Math.min(rest.toSec - margin, wishedSec));
    if (isNear(atSec)) points.push({ atSec, kind: 'rest', cost: farness(atSec) });
  }
  for (const begins of left.beginningsSec) {
    const other = right.beginningsSec.find((one) => Math.abs(one - begins) < SAME_NOTE_SEC);
    if (other === undefined) continue;
    const atSec = Math.min(begins, other) - AHEAD_SEC;
    if (!isNear(atSec) || points.some((one) => Math.abs(one.atSec - atSec) < 0.03)) continue;
    const loud = 1 - Math.min(1, Math.max(0, depth(atSec) / REST_DB));
    points.push({ atSec, kind: 'beginning', cost: 0.4 + 0.6 * loud + farness(atSec) });
  }
  const heldSec = mostAlike(pair, wishedSec, Math.min(reachSec, HELD_REACH_SEC));
  points.push({ atSec: heldSec, kind: kindAt(left, right, depth, heldSec), cost: 2.2 + farness(heldSec) });
  return points.sort((one, other) => one.cost - other.cost);
}

/** How two takes are joined at a session time. The same sounds and time always give the same. */
export function matchJoin(pair: JoinPair, atSec: number): JoinMatch {
  const left = hear(pair.left, atSec - COMPARE_SEC, atSec + COMPARE_SEC);
  const right = hear(pair.right, atSec - COMPARE_SEC, atSec + COMPARE_SEC);
  const depth = depthOf(pair, left, right);
  const kind = kindAt(left, right, depth, atSec);
  const fadeSec = fadeAt(left, right, depth(atSec), atSec);
  const stepDb = stepBetween(pair, left, right, atSec, 'levelDb');
  const tiltDb = tiltBetween(pair, left, right, atSec);
  return { kind, fadeSec, stepDb, tiltDb, likeness: kind === 'rest' ? 0 : allowedFor(pair, atSec, fadeSec) };
}

/** How far below the loud moments both takes are at a session time, dB; the louder counts. */
function depthOf(pair: JoinPair, left: Heard, right: Heard): (atSec: number) => number {
  // In a long rest the loudest moment is only noise: the music as a whole says how loud it is.
  const leftLoud = Math.max(left.loudDb, (pair.leftDb ?? Number.NEGATIVE_INFINITY) - 6);
  const rightLoud = Math.max(right.loudDb, (pair.rightDb ?? Number.NEGATIVE_INFINITY) - 6);
  return (atSec) => Math.min(leftLoud - levelAt(left, atSec), rightLoud - levelAt(right, atSec));
}

function restsOf(heard: Heard, depth: (atSec: number) => number): { fromSec: number; toSec: number }[] {
  const rests: { fromSec: number; toSec: number }[] = [];
  let began: number | undefined;
  const end = heard.levelDb.length;
  for (let n = 0; n <= end; n++) {
    const atSec = heard.fromSec + n * HOP_SEC;
    if (n < end && depth(atSec) > REST_DB) began ??= atSec;
    else if (began !== undefined) {
      if (atSec - began >= LEAST_REST_SEC) rests.push({ fromSec: began, toSec: atSec - HOP_SEC });
      began = undefined;
    }
  }
  return rests;
}

function kindAt(left: Heard, right: Heard, depth: (atSec: number) => number, atSec: number): JoinKind {
  if (depth(atSec) > REST_DB) return 'rest';
  const isBefore = (heard: Heard): boolean =>
    heard.beginningsSec.some((begins) => begins > atSec && begins - atSec < AHEAD_SEC + SAME_NOTE_SEC);
  const soon = Math.min(...[...left.beginningsSec, ...right.beginningsSec].filter((begins) => begins > atSec));
  return isBefore(left) && isBefore(right) && soon - atSec < 2 * AHEAD_SEC ? 'beginning' : 'held';
}

/** Longer the more sounds, and never over the beginning of a note. */
function fadeAt(left: Heard, right: Heard, depthDb: number, atSec: number): number {
  const held = 1 - Math.min(1, Math.max(0, depthDb - 4) / (REST_DB - 4));
  const wanted = 0.02 + held * (LONGEST_FADE_SEC - 0.02);
  const nearest = [...left.beginningsSec, ...right.beginningsSec].reduce(
    (least, begins) => Math.min(least, Math.abs(begins - atSec)),
    Number.POSITIVE_INFINITY,
  );
  return Math.max(LEAST_FADE_SEC, Math.min(wanted, 2 * (nearest - CLEAR_SEC)));
}

/**
 * Difference of the levels at a join, dB, from the moments around it at which both takes sound, the nearer the heavier: a
 * straight line through them, since one take may swell where the other does not.
 */
function stepBetween(
  pair: JoinPair,
  left: Heard,
  right: Heard,
  atSec: number,
  what: 'levelDb' | 'lowDb' | 'highDb',
): number | null {
  if (isWithoutMusic(left, pair.leftDb) || isWithoutMusic(right, pair.rightDb)) return null;
  const counted: Counted[] = [];
  left.levelDb.forEach((level, n) => {
    const farSec = left.fromSec + n * HOP_SEC - atSec;
    const other = right.levelDb[n]!;
    const stepDb = left[what][n]! - right[what][n]!;
    if (Math.abs(farSec) >= COMPARE_SEC || level < left.loudDb - GATE_DB || other < right.loudDb - GATE_DB) return;
    counted.push({ weight: 0.5 + 0.5 * Math.cos((Math.PI * farSec) / COMPARE_SEC), farSec, stepDb });
  });
  if (counted.length < LEAST_COMPARED) return null;
  // Where one take is a note further on, their levels say nothing of each other.
  const usual = counted.map((one) => one.stepDb).sort((one, other) => one - other)[counted.length >> 1]!;
  const stepDb = lineAt(counted.filter((one) => Math.abs(one.stepDb - usual) < SAME_MOMENT_DB));
  return Math.max(-MOST_STEP_DB, Math.min(MOST_STEP_DB, stepDb));
}

function tiltBetween(pair: JoinPair, left: Heard, right: Heard, atSec: number): number {
  if (!isBright(left) || !isBright(right)) return 0;
  const low = stepBetween(pair, left, right, atSec, 'lowDb');
  const high = stepBetween(pair, left, right, atSec, 'highDb');
  return low === null || high === null ? 0 : Math.max(-MOST_TILT_DB, Math.min(MOST_TILT_DB, high - low));
}

/** Whether what is heard above 1.2 kHz is music: else two takes would be matched in their noise. */
function isBright({ lowDb, highDb }: Heard): boolean {
  const loud = percentile(highDb, 0.75);
  return loud - percentile(highDb, 0.05) > OVER_NOISE_DB || loud > percentile(lowDb, 0.75) - OVERTONES_DB;
}

interface Counted {
  readonly weight: number;
  readonly farSec: number;
  readonly stepDb: number;
}

/** The value at 0 of a straight line through weighted values, its slope held down where they lie close together. */
function lineAt(counted: readonly Counted[]): number {
  let weights = 0;
  let sumFar = 0;
  let sumStep = 0;
  for (const { weight, farSec, stepDb } of counted) {
    weights += weight;
    sumFar += weight * farSec;
    sumStep += weight * stepDb;
  }
  const meanFar = sumFar / weights;
  const meanStep = sumStep / weights;
  let spread = SLOPE_CAUTION * weights;
  let along = 0;
  for (const { weight, farSec, stepDb } of counted) {
    spread += weight * (farSec - meanFar) ** 2;
    along += weight * (farSec - meanFar) * (stepDb - meanStep);
  }
  return meanStep - (along / spread) * meanFar;
}

function isWithoutMusic(heard: Heard, musicDb: number | null): boolean {
  return musicDb !== null && heard.loudDb < musicDb - NO_MUSIC_DB;
}

/**
 * The likeness that a crossfade allows for. What cancels is not made up for: the partials that do not would stick out. What
 * two rooms have in common in a rest is chance.
 */
function allowedFor(pair: JoinPair, atSec: number, fadeSec: number): number {
  const whole = likenessAt(pair, atSec, fadeSec, false);
  const bright = fadeSec > COVERED_SEC ? 0 : likenessAt(pair, atSec, fadeSec, true);
  return Math.max(0, whole, bright);
}

/** Correlation within a fade, weighed as the product of the two fades is, -1 to 1. bright: of the second differences. */
function likenessAt({ left, right }: JoinPair, atSec: number, fadeSec: number, bright: boolean): number {
  const frames = Math.round(fadeSec * left.rateHz);
  const from = Math.round(atSec * left.rateHz) - Math.floor(frames / 2);
  const one = new Float32Array(frames + 2);
  const other = new Float32Array(frames + 2);
  left.read(from - 1, one);
  right.read(from - 1, other);
  let both = 0;
  let ones = 0;
  let others = 0;
  for (let n = 0; n < frames; n++) {
    const weight = Math.sin((Math.PI * (n + 0.5)) / frames);
    const a = bright ? one[n]! - 2 * one[n + 1]! + one[n + 2]! : one[n + 1]!;
    const b = bright ? other[n]! - 2 * other[n + 1]! + other[n + 2]! : other[n + 1]!;
    both += weight * a * b;
    ones += weight * a * a;
    others += weight * b * b;
  }
  return ones === 0 || others === 0 ? 0 : both / Math.sqrt(ones * others);
}

function mostAlike(pair: JoinPair, wishedSec: number, reachSec: number): number {
  let bestSec = wishedSec;
  let best = Number.NEGATIVE_INFINITY;
  const steps = Math.round(reachSec / HELD_STEP_SEC);
  for (let n = -steps; n <= steps; n++) {
    const atSec = wishedSec + n * HELD_STEP_SEC;
    const worth = likenessAt(pair, atSec, LONGEST_FADE_SEC, false) - Math.abs(n) / (2 * steps);
    if (worth > best) [best, bestSec] = [worth, atSec];
  }
  return bestSec;
}
