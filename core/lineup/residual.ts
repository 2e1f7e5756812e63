import { sessionSecOf, takeSecOf } from '../signal/clock.ts';
import { assertNever } from '../signal/fault.ts';
import { doubtAt, type JumpDoubt } from './clock-doubt.ts';
import { asClock, asMs } from './sentences.ts';
import { mayBeNotes } from './weigh.ts';
import type { Placement, TrailPoint, WitnessKind } from './witness.ts';

/** Residual from which a take is to be looked at, s: wider apart, two attacks that should be one begin to be heard as two. */
export const MOST_RESIDUAL_SEC = 0.01;
/** Looked at every so often, s. */
const STEP_SEC = 5;
/** A jump at a break of the wave is spoken of from this probability on. Measured: 0.3 at most in 52 takes without jumps. */
const SPOKEN_OF = 0.4;
/** A bend whose moment is not known to this, s, is spoken of. */
const SURE_PLACE_SEC = 0.5;

/** What tells how far a placement may lie off along its take. */
export interface ResidualInput {
  readonly lengthSec: number;
  readonly trail: readonly TrailPoint[];
  /** How far each bend may lie from its moment, s. */
  readonly withinSec: readonly number[];
  /** Standard deviation of a clock that was fitted along the take, at a session time, s. */
  readonly errorAt?: (sessionSec: number) => number;
  /** Where the clock may jump although no jump was found, or by more or less than was found. */
  readonly doubts?: readonly JumpDoubt[];
  /** That all of the take is known to some ms only is told at the take that serves as mark, once for all. */
  readonly isToldAtMark?: boolean;
  /** Session times between which leakage is not heard where it should be, s. */
  readonly missing?: { readonly fromSec: number; readonly toSec: number };
}

/**
 * How far any moment of a take may lie from its place, one standard deviation, and a warning where that passes 10 ms.
 *
 * It is what the clock is known to, which grows away from the evidence, together with what the trail, smoothed over three
 * points, says beyond two of its own standard deviations: a player's own straying is none of the clock's.
 */
export function residualOf(
  placement: Extract<Placement, { kind: 'placed' }>,
  input: ResidualInput,
): { residualSec: number; warning?: string } {
  const { lengthSec, trail, withinSec } = input;
  let worst = { residualSec: 0, takeSec: 0, off: 0, doubtSec: 0 };
  let leastSec = Number.POSITIVE_INFINITY;
  const excess = excessOf(placement, trail);
  const known = errorOf(placement, input);
  const count = Math.max(1, Math.ceil(lengthSec / STEP_SEC));
  for (let n = 0; n <= count; n++) {
    const takeSec = (n / count) * lengthSec;
    const atSec = sessionSecOf(placement, takeSec);
    const off = excess.find((one) => Math.abs(one.atSec - atSec) <= 1.5 * STEP_SEC)?.offSec ?? 0;
    const doubtSec = Math.sqrt(doubtAt(input.doubts ?? [], atSec));
    const residualSec = Math.hypot(known(atSec), off, doubtSec);
    leastSec = Math.min(leastSec, residualSec);
    if (residualSec > worst.residualSec) worst = { residualSec, takeSec, off, doubtSec };
  }
  const sentences = [
    ...(worst.doubtSec > 0.7 * worst.residualSec || brokenAt(input) !== undefined
      ? doubtWords(placement, worst, input)
      : residualWords(placement, { ...worst, leastSec }, input.isToldAtMark ?? false)),
    ...placeWords(placement, withinSec),
    ...missingWords(placement, input),
  ];
  return { residualSec: worst.residualSec, ...(sentences.length > 0 ? { warning: sentences.join(' ') } : {}) };
}

function errorOf(
  placement: Extract<Placement, { kind: 'placed' }>,
  { errorAt }: ResidualInput,
): (sessionSec: number) => number {
  const { evidence, uncertaintySec, driftUncertaintyPpm } = placement;
  if (errorAt !== undefined) {
    const [bleed] = evidence.filter((one) => one.kind === 'bleed' && one.accepted);
    const isUnsure = bleed !== undefined && mayBeNotes(bleed) && evidence.some((one) => one.kind === 'onsets');
    return isUnsure ? (sec) => Math.hypot(uncertaintySec, errorAt(sec)) : errorAt;
  }
  const middleSec = evidence.reduce((sum, one) => sum + one.weight * one.atSec, 0);
  return (sec) => Math.hypot(uncertaintySec, driftUncertaintyPpm * 1e-6 * (sec - middleSec));
}

/** Where the trail, smoothed, lies off by more than it may by chance, and by how much more. */
function excessOf(
  placement: Extract<Placement, { kind: 'placed' }>,
  trail: readonly TrailPoint[],
): { atSec: number; offSec: number }[] {
  // Where the guide itself is heard, a player who strays from it says nothing of the clock. Two players stray from one
  // another by more than that.
  const kinds = trail.some((one) => one.kind === 'bleed') ? ['bleed'] : ['onsets'];
  return kinds.flatMap((kind) => {
    const apartSec = kind === 'onsets' ? apartAsWhole(placement) : 0;
    const points = trail.filter((one) => one.kind === kind);
    return points.flatMap((point, i) => {
      const near = points.slice(Math.max(0, i - 1), i + 2);
      if (near.length < 3) return [];
      const offs = near.map((one) => one.atSec - sessionSecOf(placement, one.takeSec) + apartSec).sort((a, b) => a - b);
      const offSec = Math.abs(offs[1]!) - 2 * point.uncertaintySec;
      return offSec > 0 ? [{ atSec: point.atSec, offSec }] : [];
    });
  });
}

/** That claps and notes disagree about the whole of a take is in the place's own error, and none of what the trail says beyond it, s. */
function apartAsWhole(placement: Extract<Placement, { kind: 'placed' }>): number {
  const notes = placement.evidence.find((one) => one.accepted && one.kind === 'onsets');
  const apartSec = notes === undefined ? 0 : sessionSecOf(placement, notes.takeSec) - notes.atSec;
  return Math.abs(apartSec) > placement.uncertaintySec ? apartSec : 0;
}

function residualWords(
  { evidence }: Extract<Placement, { kind: 'placed' }>,
  worst: { readonly residualSec: number; readonly takeSec: number; readonly off: number; readonly leastSec: number },
  isToldAtMark: boolean,
): string[] {
  if (worst.residualSec <= MOST_RESIDUAL_SEC) return [];
  const where = asClock(worst.takeSec);
  if (worst.off > 0.5 * worst.residualSec) {
    return [
      `Around ${where} of this take what was heard lies about ${asMs(worst.residualSec)} beyond chance from its place. ` +
        'Listen there, and pin a moment of it where you are sure.',
    ];
  }
  const told = evidence.filter((one) => one.accepted).map((one) => one.kind);
  const inAll = worst.leastSec > MOST_RESIDUAL_SEC;
  const why = whyUnsure(told, inAll);
  if (inAll && isToldAtMark) return [];
  const what = inAll ? 'The place of this take is known' : `At ${where} of this take its place is known`;
  return [
    `${what} to about ${asMs(worst.residualSec)} only, ${why}. ` +
      `Listen ${inAll ? 'to it' : 'there'}; pin a moment ${inAll ? 'of it' : 'near it'} if it is off` +
      `${inAll ? '.' : ', and next time clap at the end too.'}`,
  ];
}

function whyUnsure(told: readonly WitnessKind[], inAll: boolean): string {
  if (told.every((kind) => kind === 'clap')) return 'since only claps by hand tell it';
  if (told.includes('mutual')) return 'since claps by hand and notes of another player tell it';
  if (told.includes('bleed')) return 'since what seems to be the guide in it may be its own notes';
  if (inAll) return 'since notes tell their moment only so well, the less the slower they begin';
  return "since a player's notes tell a clock's drift only so well";
}

/** A break of the wave that is as likely a jump of more than 10 ms as not. */
function brokenAt({ doubts = [] }: Pick<ResidualInput, 'doubts'>): JumpDoubt | undefined {
  return doubts.find((one) => one.by === 'wave' && one.likely > SPOKEN_OF && one.jumpSec > MOST_RESIDUAL_SEC);
}

/** Where the clock most likely jumps, if it does, by all that makes a moment doubtful. */
function doubtWords(
  placement: Extract<Placement, { kind: 'placed' }>,
  worst: { readonly residualSec: number; readonly takeSec: number },
  { doubts = [] }: ResidualInput,
): string[] {
  const atSec = sessionSecOf(placement, worst.takeSec);
  const isPassed = worst.residualSec > MOST_RESIDUAL_SEC;
  const [heaviest] = doubts
    .filter((one) => isPassed && (one.side === 'after' ? atSec > one.atSec : atSec < one.atSec))
    .sort((a, b) => b.likely * b.offSec ** 2 - a.likely * a.offSec ** 2);
  const most = heaviest ?? brokenAt({ doubts });
  if (most === undefined) return [];
  const where = asClock(takeSecOf(placement, most.atSec));
  const about = asMs(most.jumpSec);
  const part = most.side === 'after' ? `From about ${where} of this take on` : `Up to about ${where} of this take`;
  const pin = 'Listen before and after it, and pin a moment on either side where it is off.';
  switch (most.by) {
    case 'bleed':
      return [
        `${part} the guide is not surely heard where it should be: the recorder may have lost or doubled sound there, about ` +
          `${about}. Listen to that part, and pin a moment of it where it is off.`,
      ];
    case 'wave':
      return [
        `At ${where} of this take the sound breaks as where a recorder loses or doubles some of it, perhaps ${about}. ${pin}`,
      ];
    case 'notes':
      return [
        `From about ${where} of this take on the notes lie otherwise than before, by about ${about}: the player changed, or ` +
          `the recorder lost or doubled sound. ${pin}`,
      ];
    case 'mended':
      return [
        `At ${where} of this take the recorder lost or doubled sound, and how much is known to about ${about} only. ${pin}`,
      ];
    default:
      return assertNever(most.by);
  }
}

function missingWords(placement: Extract<Placement, { kind: 'placed' }>, { missing }: ResidualInput): string[] {
  if (missing === undefined) return [];
  const [from, to] = [missing.fromSec, missing.toSec].map((sec) => asClock(takeSecOf(placement, sec)));
  return [
    `Between ${from} and ${to} of this take the guide is not heard where it should be: the recorder may have lost or ` +
      'doubled sound there. Listen there, and pin a moment of it where it is off.',
  ];
}

function placeWords({ bends }: Extract<Placement, { kind: 'placed' }>, withinSec: readonly number[]): string[] {
  return (bends ?? []).flatMap((bend, n) => {
    const within = withinSec[n] ?? 0;
    if (bend.jumpSec === 0 || within <= SURE_PLACE_SEC) return [];
    return [
      `The jump of ${asMs(bend.jumpSec)} around ${asClock(bend.takeSec)} is known to about ${within.toFixed(0)} s only; ` +
        'listen to the notes there.',
    ];
  });
}
