import type { Clock } from '../signal/clock.ts';

/** Farthest move of pitch, cents: the formants of a voice move by no more than 3 % with it. */
export const FARTHEST_MOVE_CENTS = 50;

/** Farthest that a stretch may be moved in time, ms. */
export const FARTHEST_NUDGE_MS = 60;

/** What is mended in a take, by choice. All times are those of the take as it was recorded, s; see the session's schema. */
export interface TakeMend {
  /** The whole take, cents. */
  readonly cents: number;
  /** On top of it: straight between these moments, level outside them, in order. */
  readonly curve: readonly { readonly atSec: number; readonly cents: number }[];
  /** Stretches that are to sound later (positive) or earlier, in order and apart. */
  readonly nudges: readonly Nudge[];
}

export interface Nudge {
  readonly fromSec: number;
  readonly toSec: number;
  readonly byMs: number;
}

/** A moment of the take as it was recorded, and how much later it sounds. Straight between moments, level outside. */
export interface ShiftPoint {
  readonly takeSec: number;
  readonly shiftSec: number;
}

/** A nudge that is not made as it was wished, and why. */
export interface HeldNudge {
  readonly wished: Nudge;
  readonly made: Nudge;
  /** One plain sentence. */
  readonly sentence: string;
}

/** How the nudges of a take are made. */
export interface NudgePlan {
  readonly points: readonly ShiftPoint[];
  /** Stretches between the nudges in which the sound is stretched or drawn together. */
  readonly glides: readonly Glide[];
  readonly held: readonly HeldNudge[];
  /** The most local stretch, 0.04 for 4 %. */
  readonly steepest: number;
}

/** Times of the take as it was recorded, s. */
export interface Glide {
  readonly fromSec: number;
  readonly toSec: number;
  readonly byMs: number;
}

/**
 * Where there is room, the tempo of a glide moves by no more than this. Our own choice: in an even row of clicks 2.5 % are
 * just noticed (Friberg and Sundberg 1995, JASA 98), and a glide lies where no row is even.
 */
const USUAL_STRETCH = 0.04;
/** Where there is little room. */
const MOST_STRETCH = 0.08;
/** A glide lasts this long at the least, s, so that what its splices leave can be closed without being heard. */
const LEAST_GLIDE_SEC = 0.4;
/** Room for a glide is taken from a stretch itself up to this share of it. */
const MOST_TAKEN = 1 / 3;
const MOST_ROUNDS = 20;

/** Whether anything is mended at all. */
export function mendsAnything(mend: TakeMend | null): mend is TakeMend {
  if (mend === null) return false;
  return mend.cents !== 0 || mend.curve.some(({ cents }) => cents !== 0) || mend.nudges.some(({ byMs }) => byMs !== 0);
}

/** By how much a take's pitch is moved at a time of it, cents, within 50. */
export function mendCentsAt(mend: TakeMend, takeSec: number): number {
  const sum =
    mend.cents +
    lineAt(
      mend.curve,
      (point) => point.atSec,
      (point) => point.cents,
      takeSec,
    );
  return Math.max(-FARTHEST_MOVE_CENTS, Math.min(FARTHEST_MOVE_CENTS, sum));
}

const plans = new WeakMap<readonly Nudge[], NudgePlan>();

/**
 * How nudges are made: each stretch moves as a whole, and a glide before and after it brings the sound there and back, by no
 * more than 4 % (8 % where stretches lie close). Where there is no room for that the glide is taken from the stretches, up to
 * a third of each, and what still does not fit is made smaller; `held` tells of it. From the mend alone, so that the picture
 * and lists of notes follow without the sound.
 */
export function planNudges(mend: TakeMend): NudgePlan {
  const known = plans.get(mend.nudges);
  if (known !== undefined) return known;
  const made = withRoom(mend.nudges);
  const points = pointsOf(made);
  const glides: Glide[] = [];
  let steepest = 0;
  for (const [n, point] of points.entries()) {
    const before = points[n - 1];
    if (before === undefined || before.shiftSec === point.shiftSec) continue;
    const shift = point.shiftSec - before.shiftSec;
    glides.push({ fromSec: before.takeSec, toSec: point.takeSec, byMs: 1000 * shift });
    steepest = Math.max(steepest, Math.abs(shift) / (point.takeSec - before.takeSec));
  }
  const held = made.flatMap((one, n) => heldOf(mend.nudges[n]!, one) ?? []);
  const plan = { points, glides, held, steepest };
  plans.set(mend.nudges, plan);
  return plan;
}

function glideSec(byMs: number): number {
  return byMs === 0 ? 0 : Math.max(LEAST_GLIDE_SEC, Math.abs(byMs) / 1000 / USUAL_STRETCH);
}

/** Least time between two shifts, s. */
function leastSec(oneMs: number, otherMs: number): number {
  return Math.abs(otherMs - oneMs) / 1000 / MOST_STRETCH;
}

/** The nudges with room between them. */
function withRoom(wished: readonly Nudge[]): Nudge[] {
  const made = wished.map((one) => ({ ...one }));
  for (let n = 0; n + 1 < made.length; n++) {
    const [one, other] = [made[n]!, made[n + 1]!];
    const lacking = leastSec(one.byMs, other.byMs) - (other.fromSec - one.toSec);
    if (lacking <= 0) continue;
    one.toSec -= Math.min(lacking / 2, MOST_TAKEN * (wished[n]!.toSec - wished[n]!.fromSec));
    other.fromSec += Math.min(lacking / 2, MOST_TAKEN * (wished[n + 1]!.toSec - wished[n + 1]!.fromSec));
  }
  for (let round = 0; round < MOST_ROUNDS; round++) {
    let isHeld = false;
    for (let n = 0; n + 1 < made.length; n++) isHeld = holdPair(made[n]!, made[n + 1]!) || isHeld;
    if (!isHeld) break;
  }
  return made;
}

/** Makes two neighbours differ by no more than their room lets them; true when it had to. */
function holdPair(one: { toSec: number; byMs: number }, other: { fromSec: number; byMs: number }): boolean {
  const room = Math.max(0, other.fromSec - one.toSec);
  const least = leastSec(one.byMs, other.byMs);
  if (least <= room * (1 + 1e-9)) return false;
  const share = room / least;
  if (one.byMs * other.byMs < 0) {
    one.byMs *= share;
    other.byMs *= share;
  } else if (Math.abs(one.byMs) > Math.abs(other.byMs)) one.byMs = other.byMs + (one.byMs - other.byMs) * share;
  else other.byMs = one.byMs + (other.byMs - one.byMs) * share;
  return true;
}

function pointsOf(made: readonly Nudge[]): ShiftPoint[] {
  const points: ShiftPoint[] = [];
  const add = (takeSec: number, byMs: number): void => {
    const last = points.at(-1);
    if (last === undefined || takeSec > last.takeSec) points.push({ takeSec, shiftSec: byMs / 1000 });
  };
  for (const [n, one] of made.entries()) {
    const [before, after] = [made[n - 1], made[n + 1]];
    const wants = glideSec(one.byMs);
    // Before a take's beginning nothing is heard that could be stretched.
    if (before === undefined && one.fromSec > wants) add(one.fromSec - wants, 0);
    add(one.fromSec, one.byMs);
    add(one.toSec, one.byMs);
    if (after === undefined) add(one.toSec + wants, 0);
    else if (after.fromSec - one.toSec >= wants + glideSec(after.byMs)) {
      add(one.toSec + wants, 0);
      add(after.fromSec - glideSec(after.byMs), 0);
    }
  }
  return points;
}

function heldOf(wished: Nudge, made: Nudge): HeldNudge | undefined {
  const isSmaller = Math.abs(made.byMs - wished.byMs) > 0.05;
  const isShorter = made.toSec - made.fromSec < wished.toSec - wished.fromSec - 1e-9;
  if (!isSmaller && !isShorter) return undefined;
  const size = (ms: number): string => `${Math.abs(ms).toFixed(0)} ms ${ms < 0 ? 'earlier' : 'later'}`;
  const where = `The stretch from ${wished.fromSec.toFixed(1)} to ${wished.toSec.toFixed(1)} s`;
  const why = 'its neighbour is too close for more';
  const sentence = isSmaller
    ? `${where} sounds ${size(made.byMs)}, not ${size(wished.byMs)}: ${why}.`
    : `${where} is moved from ${made.fromSec.toFixed(2)} to ${made.toSec.toFixed(2)} s only: ${why}.`;
  return { wished, made, sentence };
}

/** Where a moment of the take as it was recorded sounds in the mended take, s. */
export function warpedTakeSec(mend: TakeMend | null, takeSec: number): number {
  return mend === null ? takeSec : takeSec + shiftAt(planNudges(mend).points, takeSec);
}

/** Which moment of the take as it was recorded sounds at a time of the mended take, s. */
export function unwarpedTakeSec(mend: TakeMend | null, mendedSec: number): number {
  if (mend === null) return mendedSec;
  const shift = lineAt(
    planNudges(mend).points,
    (point) => point.takeSec + point.shiftSec,
    (point) => point.shiftSec,
    mendedSec,
  );
  return mendedSec - shift;
}

function shiftAt(points: readonly ShiftPoint[], takeSec: number): number {
  return lineAt(
    points,
    (point) => point.takeSec,
    (point) => point.shiftSec,
    takeSec,
  );
}

/** A line through points in order, level outside them; 0 for none. */
function lineAt<Point>(
  points: readonly Point[],
  x: (point: Point) => number,
  y: (point: Point) => number,
  at: number,
): number {
  const next = points.findIndex((point) => x(point) >= at);
  const after = points[next < 0 ? points.length - 1 : next];
  if (after === undefined) return 0;
  const before = points[next - 1];
  if (next <= 0 || before === undefined) return y(after);
  return y(before) + ((y(after) - y(before)) * (at - x(before))) / (x(after) - x(before));
}

/**
 * The clock of a take as it was recorded whose mended sound runs by `clock`: with bends where nudges begin and end. For what is not
 * mended itself: pictures, edit lists, marks. (The mended sound lies by `clock`.)
 */
export function withNudges(clock: Clock, mend: TakeMend | null): Clock {
  const points = mend === null ? [] : planNudges(mend).points;
  if (mend === null || points.every(({ shiftSec }) => shiftSec === 0)) return clock;
  const slopeFrom = (n: number): number => {
    const [one, next] = [points[n]!, points[n + 1]];
    return next === undefined ? 0 : (next.shiftSec - one.shiftSec) / (next.takeSec - one.takeSec);
  };
  const events = [
    ...points.map(({ takeSec }, n) => ({ takeSec, jumpSec: 0, slope: slopeFrom(n), driftPpm: null })),
    ...(clock.bends ?? []).map(({ takeSec, jumpSec, driftPpm }) => ({
      takeSec: unwarpedTakeSec(mend, takeSec),
      jumpSec,
      slope: null,
      driftPpm,
    })),
  ].sort((one, other) => one.takeSec - other.takeSec);
  let slope = 0;
  let driftPpm = clock.driftPpm;
  const bends = events.map((event) => {
    slope = event.slope ?? slope;
    driftPpm = event.driftPpm ?? driftPpm;
    const rate = (1 + driftPpm * 1e-6) / (1 + slope);
    return { takeSec: event.takeSec, jumpSec: event.jumpSec, driftPpm: (rate - 1) * 1e6 };
  });
  const offsetSec = clock.offsetSec + points[0]!.shiftSec / (1 + clock.driftPpm * 1e-6);
  return { offsetSec, driftPpm: clock.driftPpm, bends };
}
