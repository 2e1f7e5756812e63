import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import {
  type Against,
  type CurveLine,
  type CurvePoint,
  MOST_RESIDUAL_SEC,
  type OffsetCurve,
} from '../../../core/session/offset-curve.ts';
import { barStep, barsOf, usualBarSec } from '../../lanes/bar-map.ts';
import { clock, figure } from '../../parts/numbers.ts';
import { evenScale, evenTicks, type Tick } from '../drawing/axes.ts';

/** Spans of the upright axis to each side of its middle, ms. */
const HALVES = [1, 2, 5, 15, 25, 50, 100, 200, 500, 1000, 2000, 5000] as const;
/** At first the line of 10 ms is in view. */
const FIRST_HALF_MS = 15;
/** Share of the accepted points that must be in view at first: a few far ones may be drawn at the edge. */
const SEEN_SHARE = 0.97;
const LEAST_BAR_PX = 34;

export interface Box {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

/** What the upright axis spans, ms. */
export interface MsRange {
  readonly lowMs: number;
  readonly highMs: number;
}

/**
 * What the upright axis spans: around 0 against the place, around the middle of the line against an even clock; all of the
 * line and nearly all accepted points. closer: steps closer (positive) or wider than that.
 */
export function msRange(
  curve: OffsetCurve,
  against: Against,
  closer: number,
): MsRange & { readonly canCloser: boolean; readonly canWider: boolean } {
  const ends = [...curve.place, ...(against === 'place' ? [] : curve.found)].flatMap(({ fromMs, toMs }) => [
    fromMs,
    toMs,
  ]);
  const middle = against === 'place' || ends.length === 0 ? 0 : (Math.min(...ends) + Math.max(...ends)) / 2;
  const accepted = curve.points.filter((one) => one.accepted).map((one) => Math.abs(one.offMs - middle));
  accepted.sort((a, b) => a - b);
  const farthest = accepted[Math.ceil(SEEN_SHARE * accepted.length) - 1] ?? 0;
  const needed = Math.max(FIRST_HALF_MS, 1.08 * farthest, ...ends.map((ms) => 1.08 * Math.abs(ms - middle)));
  const fitting = HALVES.findIndex((half) => half >= needed);
  const first = fitting < 0 ? HALVES.length - 1 : fitting;
  const at = Math.max(0, Math.min(HALVES.length - 1, first - closer));
  const half = HALVES[at]!;
  return { lowMs: middle - half, highMs: middle + half, canCloser: at > 0, canWider: at < HALVES.length - 1 };
}

/** A point as it is drawn; `beyond` says that it lies off the picture, above (1) or below (-1). */
export interface DrawnPoint {
  readonly point: CurvePoint;
  readonly x: number;
  readonly y: number;
  /** Ends of its uncertainty. */
  readonly y1: number;
  readonly y2: number;
  readonly beyond: -1 | 0 | 1;
}

export interface OffsetLayout {
  readonly x: (sec: number) => number;
  /** Held inside the picture. */
  readonly y: (ms: number) => number;
  readonly points: readonly DrawnPoint[];
  readonly msTicks: readonly number[];
  readonly timeTicks: readonly Tick[];
  /** The ticks are bars, not times. */
  readonly inBars: boolean;
}

/** Lays a curve out in a box of CSS pixels. */
export function layOffsets(curve: OffsetCurve, range: MsRange, plan: KeptPlan | null, box: Box): OffsetLayout {
  const { lowMs, highMs } = range;
  const x = evenScale(curve.fromSec, Math.max(curve.toSec, curve.fromSec + 1), box.left, box.right);
  const free = evenScale(lowMs, highMs, box.bottom, box.top);
  const y = (ms: number): number => free(Math.max(lowMs, Math.min(highMs, ms)));
  return {
    x,
    y,
    points: curve.points.map((point) => ({
      point,
      x: Math.max(box.left, Math.min(box.right, x(point.atSec))),
      y: y(point.offMs),
      y1: y(point.offMs - point.reachMs),
      y2: y(point.offMs + point.reachMs),
      beyond: point.offMs > highMs ? 1 : point.offMs < lowMs ? -1 : 0,
    })),
    msTicks: evenTicks(lowMs, highMs, Math.max(2, (box.bottom - box.top) / 30)),
    ...timeTicksOf(curve, plan, x, box),
  };
}

function timeTicksOf(
  { fromSec, toSec }: OffsetCurve,
  plan: KeptPlan | null,
  x: (sec: number) => number,
  box: Box,
): Pick<OffsetLayout, 'timeTicks' | 'inBars'> {
  const width = box.right - box.left;
  const bars = barsOf(plan).filter(({ sec, label }) => label !== '' && sec >= fromSec && sec <= toSec);
  if (bars.length === 0) {
    const ticks = evenTicks(fromSec, toSec, width / 76);
    return { inBars: false, timeTicks: ticks.map((sec) => ({ at: x(sec), words: clock(sec, 0) })) };
  }
  const step = barStep((usualBarSec(bars) / (toSec - fromSec)) * width, LEAST_BAR_PX);
  const named = bars.filter(({ label }) => (Number(label) - 1) % step === 0);
  return { inBars: true, timeTicks: named.map(({ sec, label }) => ({ at: x(sec), words: label })) };
}

/** An SVG path around straight pieces, `reachMs` to both sides: a band that goes along with the clock. */
export function bandPath(
  lines: readonly CurveLine[],
  reachMs: number,
  x: (sec: number) => number,
  y: (ms: number) => number,
): string {
  const at = (sec: number, ms: number): string => `${x(sec).toFixed(1)} ${y(ms).toFixed(1)}`;
  return lines
    .map(
      ({ fromSec, toSec, fromMs, toMs }) =>
        `M${at(fromSec, fromMs + reachMs)}L${at(toSec, toMs + reachMs)}L${at(toSec, toMs - reachMs)}L${at(fromSec, fromMs - reachMs)}Z`,
    )
    .join('');
}

/** An SVG path along straight pieces, moved by `byMs`; jumps are joined by an upright where `joined`. */
export function linePath(
  lines: readonly CurveLine[],
  byMs: number,
  x: (sec: number) => number,
  y: (ms: number) => number,
  joined: boolean,
): string {
  return lines
    .map(
      ({ fromSec, toSec, fromMs, toMs }, n) =>
        `${n > 0 && joined ? 'L' : 'M'}${x(fromSec).toFixed(1)} ${y(fromMs + byMs).toFixed(1)}L${x(toSec).toFixed(1)} ${y(toMs + byMs).toFixed(1)}`,
    )
    .join('');
}

/** The line at which it is warned, ms to each side of the place. */
export const WARN_MS = 1000 * MOST_RESIDUAL_SEC;

/** Words of a tick: "10 ms later", "as it lies". */
export function msWords(ms: number, against: Against): string {
  if (ms === 0) return against === 'place' ? 'as it lies' : 'even clock';
  const size = Math.abs(ms);
  return `${figure(size, size < 1 ? 1 : 0)} ms ${ms > 0 ? 'later' : 'earlier'}`;
}

/** The curve in a sentence, for people who do not see it. */
export function curveWords(curve: OffsetCurve): string {
  const used = curve.points.filter((one) => one.accepted);
  const worst = used.reduce((most, one) => Math.max(most, Math.abs(one.offMs)), 0);
  const bends = curve.bends.map((bend) => `${bend.words} at ${clock(bend.atSec, 1)}`).join('; ');
  const residual =
    curve.residualMs === null
      ? ''
      : ` Any moment is thought to lie within ${figure(curve.residualMs, 1)} ms of its place.`;
  return `${curve.points.length} moments from ${clock(curve.fromSec, 0)} to ${clock(curve.toSec, 0)}, ${used.length} of them used, the farthest of those ${figure(worst, 1)} ms off. ${bends === '' ? 'The clock runs evenly.' : `The clock changes: ${bends}.`}${residual}`;
}
