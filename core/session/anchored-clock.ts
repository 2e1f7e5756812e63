import { type Bend, type Clock, clockOf, sessionSecOf } from '../signal/clock.ts';
import { LONGEST_JUMP_SEC, MOST_BENDS, STEEPEST_DRIFT_PPM } from './placement-schema.ts';

/** A moment of a take that the user pinned to its place: `takeSec` of the take belongs to session time `atSec`, s. */
export interface Anchor {
  readonly takeSec: number;
  readonly atSec: number;
  /** The take's time between the anchor before and this one at which sound is missing or doubled; null: none is. */
  readonly jumpTakeSec: number | null;
}

/** What comes of anchors: a value, or a sentence why they cannot be. */
export type Laid<Value> =
  | { readonly kind: 'laid'; readonly value: Value }
  | { readonly kind: 'refused'; readonly reason: string };

/** Anchors nearer than that would bend the clock by every slip of the hand: 1 ms in 5 s are 200 ppm. */
export const NEAREST_ANCHORS_SEC = 5;
/** Less than that is no bend. */
const LEAST_JUMP_SEC = 1e-9;
const LEAST_BEND_PPM = 1e-6;

/** A straight piece of what anchors add to a clock, from a take time on: `addedSec` at `atTakeSec`, and seconds a second. */
interface Piece {
  readonly fromTakeSec: number;
  readonly atTakeSec: number;
  readonly addedSec: number;
  readonly slope: number;
}

/**
 * The clock that goes through all anchors, to the last digit. What is added to `base` is straight from anchor to anchor and
 * goes on straight beyond the outer ones: one anchor moves the whole; two give an offset and a drift; more bend it at the
 * inner ones. Where an anchor says that sound is missing before it, it jumps there, and keeps on both sides the drift of
 * that side. The bends of `base` stay where they are.
 * anchors: in the order of the take, at least one. Refused, in words for people: anchors nearer than 5 s, a clock off by
 * more than 2000 ppm anywhere, jumps of more than 5 s or outside of their two anchors, more than 50 bends.
 */
export function layByAnchors(base: Clock, anchors: readonly Anchor[]): Laid<Clock> {
  const fault = faultOf(anchors);
  if (fault !== undefined) return { kind: 'refused', reason: fault };
  const added = addedBy(base, anchors);
  const baseBends = base.bends ?? [];
  const changes = [...baseBends.map((one) => one.takeSec), ...added.slice(1).map((one) => one.fromTakeSec)];
  const moments = [...new Set(changes)].sort((a, b) => a - b);
  const first = added[0]!;
  const bends: Bend[] = [];
  let before = first;
  let rateBefore = base.driftPpm;
  let driftBefore = driftWith(base.driftPpm, first.slope);
  const clock = { offsetSec: base.offsetSec + valueAt(first, 0), driftPpm: driftBefore };
  let steepest = { ppm: driftBefore, takeSec: anchors[0]!.takeSec };
  for (const takeSec of moments) {
    const bend = baseBends.find((one) => one.takeSec === takeSec);
    const after = added.findLast((one) => one.fromTakeSec <= takeSec) ?? first;
    rateBefore = bend?.driftPpm ?? rateBefore;
    const driftPpm = driftWith(rateBefore, after.slope);
    const jumpSec = (bend?.jumpSec ?? 0) + valueAt(after, takeSec) - valueAt(before, takeSec);
    if (Math.abs(jumpSec) > LONGEST_JUMP_SEC) return { kind: 'refused', reason: jumpFault(jumpSec, anchors, takeSec) };
    if (Math.abs(driftPpm) > Math.abs(steepest.ppm)) steepest = { ppm: driftPpm, takeSec };
    if (Math.abs(jumpSec) > LEAST_JUMP_SEC || Math.abs(driftPpm - driftBefore) > LEAST_BEND_PPM) {
      bends.push({ takeSec, jumpSec: Math.abs(jumpSec) > LEAST_JUMP_SEC ? jumpSec : 0, driftPpm });
    }
    before = after;
    driftBefore = driftPpm;
  }
  if (Math.abs(steepest.ppm) > STEEPEST_DRIFT_PPM) {
    return { kind: 'refused', reason: driftFault(steepest.ppm, anchors, steepest.takeSec) };
  }
  if (bends.length > MOST_BENDS) {
    return { kind: 'refused', reason: `A take's clock can change ${MOST_BENDS} times at most. Take a pin away first.` };
  }
  return { kind: 'laid', value: clockOf({ ...clock, bends }) };
}

function addedBy(base: Clock, anchors: readonly Anchor[]): Piece[] {
  const points = anchors.map((one) => ({ ...one, addedSec: one.atSec - sessionSecOf(base, one.takeSec) }));
  const groups: (typeof points)[] = [];
  for (const point of points) {
    if (groups.length === 0 || point.jumpTakeSec !== null) groups.push([point]);
    else groups.at(-1)!.push(point);
  }
  const slopesOf = (group: typeof points): number[] =>
    group.slice(1).map((one, n) => (one.addedSec - group[n]!.addedSec) / (one.takeSec - group[n]!.takeSec));
  const slopes = groups.map(slopesOf);
  return groups.flatMap((group, n): Piece[] => {
    // A stretch with one anchor alone keeps the drift of the stretch before it, else of the one after.
    const lone =
      slopes
        .slice(0, n)
        .findLast((one) => one.length > 0)
        ?.at(-1) ??
      slopes.slice(n).find((one) => one.length > 0)?.[0] ??
      0;
    const own = slopes[n]!.length > 0 ? slopes[n]! : [lone];
    return own.map((slope, at) => ({
      fromTakeSec: at > 0 ? group[at]!.takeSec : n > 0 ? group[0]!.jumpTakeSec! : Number.NEGATIVE_INFINITY,
      atTakeSec: group[at]!.takeSec,
      addedSec: group[at]!.addedSec,
      slope,
    }));
  });
}

function valueAt(piece: Piece, takeSec: number): number {
  return piece.addedSec + piece.slope * (takeSec - piece.atTakeSec);
}

/** Drift of a clock to which `slope` session seconds a take second are added, ppm. */
function driftWith(driftPpm: number, slope: number): number {
  return (1 / (1 / (1 + driftPpm * 1e-6) + slope) - 1) * 1e6;
}

function faultOf(anchors: readonly Anchor[]): string | undefined {
  if (anchors.length === 0) throw new RangeError('anchors: at least one');
  for (const [n, one] of anchors.entries()) {
    const before = anchors[n - 1];
    if (before === undefined) continue;
    const apartSec = one.takeSec - before.takeSec;
    if (apartSec < NEAREST_ANCHORS_SEC - 1e-9) {
      return `The pins at ${clockWords(before.atSec)} and ${clockWords(one.atSec)} lie only ${apartSec.toFixed(1)} s apart: at least ${NEAREST_ANCHORS_SEC} s are needed, or every slip of the hand would bend the clock. Pin farther off, or take the other pin away first.`;
    }
    const { jumpTakeSec } = one;
    if (jumpTakeSec !== null && (jumpTakeSec <= before.takeSec || jumpTakeSec > one.takeSec)) {
      return `The missing sound must lie between the pins at ${clockWords(before.atSec)} and ${clockWords(one.atSec)}.`;
    }
  }
  return undefined;
}

function driftFault(ppm: number, anchors: readonly Anchor[], takeSec: number): string {
  const after = anchors.findIndex((one) => one.takeSec > takeSec);
  const n = Math.max(1, after < 0 ? anchors.length - 1 : after);
  const from = anchors[n - 1]!;
  const to = anchors[n] ?? from;
  const off = `its clock would have to run ${Math.abs(ppm).toFixed(0)} ppm ${ppm > 0 ? 'fast' : 'slow'}, and no recorder is off by more than ${STEEPEST_DRIFT_PPM}`;
  return `Between the pins at ${clockWords(from.atSec)} and ${clockWords(to.atSec)} ${off}. One of the two is not where it belongs, or sound is missing between them.`;
}

function jumpFault(jumpSec: number, anchors: readonly Anchor[], takeSec: number): string {
  const at = anchors.find((one) => one.takeSec >= takeSec) ?? anchors.at(-1)!;
  return `Before the pin at ${clockWords(at.atSec)} ${Math.abs(jumpSec).toFixed(1)} s would be ${jumpSec > 0 ? 'missing' : 'doubled'}; more than ${LONGEST_JUMP_SEC} s cannot be. Look whether the two pins belong where they are.`;
}

/** Session time for people: "1:23.4". */
function clockWords(sec: number): string {
  const tenths = Math.round(Math.abs(sec) * 10);
  const rest = ((tenths % 600) / 10).toFixed(1).padStart(4, '0');
  return `${sec < 0 && tenths > 0 ? '−' : ''}${Math.floor(tenths / 600)}:${rest}`;
}
