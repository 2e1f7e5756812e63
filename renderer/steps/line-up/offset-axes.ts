import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Against, CurvePoint, OffsetCurve } from '../../../core/session/offset-curve.ts';
import type { MsRange } from '../../../core/session/offset-drawing.ts';
import { barStep, barsOf, usualBarSec } from '../../lanes/bar-map.ts';
import { clock, figure } from '../../parts/numbers.ts';
import { evenScale, evenTicks, type Tick } from '../drawing/axes.ts';
import { reachWords } from './placement-words.ts';

const LEAST_BAR_PX = 34;

export interface Box {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
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
  /** Not held inside: for lines that are cut off at its edge. */
  readonly freeY: (ms: number) => number;
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
    freeY: free,
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
      : ` Any moment is thought to lie within ${reachWords(curve.residualMs)} of its place.`;
  return `${curve.points.length} moments from ${clock(curve.fromSec, 0)} to ${clock(curve.toSec, 0)}, ${used.length} of them used, the farthest of those ${figure(worst, 1)} ms off. ${bends === '' ? 'The clock runs evenly.' : `The clock changes: ${bends}.`}${residual}`;
}
