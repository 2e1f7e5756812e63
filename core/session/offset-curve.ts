import { type Bend, type Clock, clockPieces, sessionSecOf } from '../signal/clock.ts';
import { clockText } from '../signal/time.ts';
import type { TrailPoint } from './schema.ts';

/** Residual from which a take is to be looked at, s: wider apart, two attacks that should be one begin to be heard as two. */
export const MOST_RESIDUAL_SEC = 0.01;

/** What a curve of offset over time is drawn from: a placement, or what a report tells of one. */
export interface CurveSource extends Clock {
  readonly residualSec?: number | undefined;
  readonly trail?: readonly TrailPoint[] | undefined;
  /** As it was found: where it may lie off, and what to do. */
  readonly warning?: string | undefined;
  readonly evidence: readonly (Omit<TrailPoint, 'kind'> & {
    readonly kind: string;
    readonly anchor?: object | undefined;
  })[];
  /** Where it lay as it was found, once it was laid elsewhere. */
  readonly found?: Clock | undefined;
}

/** What the curve is drawn against: the place as it is, or a clock without drift that begins with the take. */
export type Against = 'place' | 'even';

/** A moment that was heard or pinned, as it is drawn. */
export interface CurvePoint {
  /** 'clap', 'bleed', 'onsets', 'mutual' or 'user'. */
  readonly kind: string;
  /** Session time, s. */
  readonly atSec: number;
  readonly takeSec: number;
  /** How much later (positive) than what the curve is drawn against it would have the take, ms. */
  readonly offMs: number;
  /** One standard deviation, ms. */
  readonly reachMs: number;
  readonly accepted: boolean;
}

/** A straight piece of a clock as it is drawn: session times, s, and ms against what the curve is drawn against. */
export interface CurveLine {
  readonly fromSec: number;
  readonly toSec: number;
  readonly fromMs: number;
  readonly toMs: number;
}

/** A change of the clock in words. */
export interface CurveBend {
  /** Session time, s. */
  readonly atSec: number;
  readonly takeSec: number;
  readonly offMs: number;
  readonly words: string;
}

export interface OffsetCurve {
  /** Session time at which the take begins and ends, s. */
  readonly fromSec: number;
  readonly toSec: number;
  /** In order of time. */
  readonly points: readonly CurvePoint[];
  /** The place as it is; level at 0 against itself. */
  readonly place: readonly CurveLine[];
  /** As it was found; none where it lies as it was found. */
  readonly found: readonly CurveLine[];
  readonly bends: readonly CurveBend[];
  /** How far from the place any moment is thought to lie, ms; null where that is not known. */
  readonly residualMs: number | null;
  /** Something was heard along the take: else there is nothing to draw but what was pinned. */
  readonly isHeard: boolean;
}

/**
 * A take's offset over time: what each witness says, the place, and the bends. Pure; for screens and reports.
 * lengthSec: of the take, in its own time. Evidence is shown beside the trail where the trail has none of its kind.
 */
export function offsetCurve(source: CurveSource, lengthSec: number, against: Against): OffsetCurve {
  const start = sessionSecOf(source, 0);
  const base: Clock = against === 'place' ? source : { offsetSec: start, driftPpm: 0 };
  const trail = source.trail ?? [];
  const kinds = new Set<string>(trail.map((one) => one.kind));
  // That the whole was moved by hand says nothing of a moment.
  const told = source.evidence.filter((one) => (one.kind === 'user' ? one.anchor !== undefined : !kinds.has(one.kind)));
  const points = [...trail.filter((one) => one.kind !== 'user'), ...told]
    .filter((one) => one.takeSec >= -1 && one.takeSec <= lengthSec + 1)
    .map(({ kind, atSec, takeSec, uncertaintySec, accepted }) => ({
      ...{ kind, atSec, takeSec, accepted },
      offMs: 1000 * (atSec - sessionSecOf(base, takeSec)),
      reachMs: 1000 * uncertaintySec,
    }))
    .sort((a, b) => a.atSec - b.atSec);
  return {
    fromSec: start,
    toSec: sessionSecOf(source, lengthSec),
    points,
    place: linesOf(source, base, lengthSec),
    found: source.found === undefined ? [] : linesOf(source.found, base, lengthSec),
    bends: bendsOf(source, base, lengthSec),
    residualMs: source.residualSec === undefined ? null : 1000 * source.residualSec,
    isHeard: trail.length > 0,
  };
}

/** Straight pieces of a clock against another; cut where either of them changes. */
function linesOf(clock: Clock, base: Clock, lengthSec: number): CurveLine[] {
  const changes = [...(clock.bends ?? []), ...(base.bends ?? [])].map((one) => one.takeSec);
  const cuts = [...new Set([0, ...changes.filter((sec) => sec > 0 && sec < lengthSec), lengthSec])].sort(
    (a, b) => a - b,
  );
  const middleOf = (n: number): number => (cuts[n]! + cuts[n + 1]!) / 2;
  return cuts.slice(1).map((toTakeSec, n) => {
    const fromTakeSec = cuts[n]!;
    const at = (takeSec: number): { sec: number; ms: number } => {
      // On the piece that holds in the middle, so that both ends of it are on one side of a jump.
      const sec = onPiece(clock, middleOf(n), takeSec);
      return { sec, ms: 1000 * (sec - onPiece(base, middleOf(n), takeSec)) };
    };
    const from = at(fromTakeSec);
    const to = at(toTakeSec);
    return { fromSec: from.sec, toSec: to.sec, fromMs: from.ms, toMs: to.ms };
  });
}

function onPiece(clock: Clock, insideTakeSec: number, takeSec: number): number {
  const piece = clockPieces(clock).findLast(({ fromTakeSec }) => insideTakeSec >= fromTakeSec)!;
  return piece.sessionSec0 + (takeSec - piece.takeSec0) / piece.rate;
}

function bendsOf(clock: Clock, base: Clock, lengthSec: number): CurveBend[] {
  const bends = clock.bends ?? [];
  return bends.flatMap((bend, n) => {
    if (bend.takeSec <= 0 || bend.takeSec >= lengthSec) return [];
    const atSec = sessionSecOf(clock, bend.takeSec);
    const words = bendWords(bend, bends[n - 1]?.driftPpm ?? clock.driftPpm);
    return [{ atSec, takeSec: bend.takeSec, offMs: 1000 * (atSec - sessionSecOf(base, bend.takeSec)), words }];
  });
}

/** Jumps and changes of speed smaller than that are not spoken of. */
const LEAST_JUMP_MS = 0.05;
const LEAST_CHANGE_PPM = 0.5;

/** A bend in words: "lost 20 ms", "20 ms doubled", "runs 34 ppm faster from here". driftBeforePpm: of the clock before it. */
export function bendWords(bend: Bend, driftBeforePpm: number): string {
  const words: string[] = [];
  const jumpMs = 1000 * bend.jumpSec;
  if (Math.abs(jumpMs) >= LEAST_JUMP_MS) {
    const size = Math.abs(jumpMs).toFixed(Math.abs(jumpMs) < 10 ? 1 : 0);
    words.push(jumpMs > 0 ? `lost ${size} ms` : `${size} ms doubled`);
  }
  const changePpm = bend.driftPpm - driftBeforePpm;
  if (Math.abs(changePpm) >= LEAST_CHANGE_PPM) {
    words.push(`runs ${Math.abs(changePpm).toFixed(0)} ppm ${changePpm > 0 ? 'faster' : 'slower'} from here`);
  }
  return words.length === 0 ? 'a slight change' : words.join(', ');
}

/** Points that say so before it is told that what was heard speaks against a place. */
const SPEAK_AGAINST = 3;

/**
 * Why a take is to be looked at for its curve, in a sentence; null where it is not: its residual passes 10 ms, or (where the
 * user laid it, and no residual is known) what was heard along it lies more than 10 ms off, its own uncertainty taken off.
 */
export function residualWarning(source: CurveSource): string | null {
  if (source.warning !== undefined) return source.warning;
  const heard = (source.trail ?? []).filter((one) => one.accepted);
  const off = heard
    .map((one) => ({ ...one, apartSec: one.atSec - sessionSecOf(source, one.takeSec) }))
    .filter((one) => Math.abs(one.apartSec) - 2 * one.uncertaintySec > MOST_RESIDUAL_SEC)
    .sort((a, b) => Math.abs(b.apartSec) - Math.abs(a.apartSec));
  const limit = `more than the ${1000 * MOST_RESIDUAL_SEC} ms that should not be passed`;
  const { residualSec } = source;
  if (residualSec === undefined) {
    const middle = off[off.length >> 1];
    if (off.length < SPEAK_AGAINST || middle === undefined) return null;
    return `What was heard around ${clockText(off[0]!.atSec)} lies ${ms(middle.apartSec)} from this place, ${limit}. Look at its curve.`;
  }
  if (residualSec <= MOST_RESIDUAL_SEC || isToldAtMark(source)) return null;
  const where = off[0] === undefined ? 'Somewhere' : `Around ${clockText(off[0].atSec)}`;
  return `${where} it may lie ${ms(residualSec)} from its place, ${limit}. Look at its curve, and pin it where you are sure.`;
}

/** Takes that are laid against one another have it told once, at the one that serves as mark. */
function isToldAtMark({ evidence }: CurveSource): boolean {
  const told = evidence.filter((one) => one.accepted);
  return told.length > 0 && told.every((one) => one.kind === 'clap' || one.kind === 'mutual');
}

function ms(sec: number): string {
  return `${(1000 * Math.abs(sec)).toFixed(0)} ms`;
}
