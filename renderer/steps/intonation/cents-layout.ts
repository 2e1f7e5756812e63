import { WARN_CENTS } from '../../../core/pitch/audibility.ts';
import type { NoteIntonation } from '../../../core/pitch/intonation.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { barStep, barsOf, usualBarSec } from '../../lanes/bar-map.ts';
import { clock } from '../../parts/numbers.ts';
import { evenScale, evenTicks, type Tick } from '../drawing/axes.ts';

/** The axis of cents reaches at least and at most so far to both sides. */
const LEAST_HALF = 30;
const MOST_HALF = 60;
/** Notes are drawn at least this long, CSS pixels, so that short ones are seen. */
const SHORTEST_PX = 3;
const LEAST_BAR_PX = 34;

/** A note as it is drawn. */
export interface DrawnNote {
  readonly x1: number;
  readonly x2: number;
  readonly y: number;
  /** It lies farther off than the picture reaches: 1 above, -1 below, 0 inside. */
  readonly beyond: -1 | 0 | 1;
  /** 15 cents or more off. */
  readonly out: boolean;
}

export interface CentsLayout {
  readonly halfCents: number;
  readonly notes: readonly DrawnNote[];
  readonly y: (cents: number) => number;
  readonly x: (sec: number) => number;
  readonly centsTicks: readonly number[];
  readonly timeTicks: readonly Tick[];
  /** The ticks are bars, not times. */
  readonly inBars: boolean;
}

/** How far the axis of cents reaches so that nearly all of these notes are inside. */
export function halfCentsOf(notes: readonly { readonly offCents: number }[]): number {
  const farthest = notes.reduce((most, { offCents }) => Math.max(most, Math.abs(offCents)), 0);
  return Math.min(MOST_HALF, Math.max(LEAST_HALF, Math.ceil((farthest + 3) / 10) * 10));
}

/** From the first note to the last of all voices, s, so that pictures of all voices have one time. */
export function timeSpan(voices: readonly { readonly notes: readonly Pick<NoteIntonation, 'fromSec' | 'toSec'>[] }[]): {
  readonly fromSec: number;
  readonly toSec: number;
} {
  let fromSec = Number.POSITIVE_INFINITY;
  let toSec = Number.NEGATIVE_INFINITY;
  for (const { notes } of voices) {
    for (const note of notes) {
      fromSec = Math.min(fromSec, note.fromSec);
      toSec = Math.max(toSec, note.toSec);
    }
  }
  return fromSec < toSec ? { fromSec, toSec } : { fromSec: 0, toSec: 1 };
}

/** Lays the notes of a voice out in a box of CSS pixels. */
export function layoutCents(
  notes: readonly Pick<NoteIntonation, 'fromSec' | 'toSec' | 'offCents'>[],
  span: { readonly fromSec: number; readonly toSec: number },
  plan: KeptPlan | null,
  box: { readonly left: number; readonly right: number; readonly top: number; readonly bottom: number },
): CentsLayout {
  const halfCents = halfCentsOf(notes);
  const x = evenScale(span.fromSec, span.toSec, box.left, box.right);
  const y = evenScale(halfCents, -halfCents, box.top, box.bottom);
  return {
    halfCents,
    x,
    y,
    notes: notes.map(({ fromSec, toSec, offCents }) => ({
      x1: x(fromSec),
      x2: Math.max(x(fromSec) + SHORTEST_PX, x(toSec)),
      y: y(Math.max(-halfCents, Math.min(halfCents, offCents))),
      beyond: offCents > halfCents ? 1 : offCents < -halfCents ? -1 : 0,
      out: Math.abs(offCents) >= WARN_CENTS,
    })),
    centsTicks: [-halfCents, -WARN_CENTS, 0, WARN_CENTS, halfCents],
    ...timeTicksOf(span, plan, x, box.right - box.left),
  };
}

function timeTicksOf(
  span: { readonly fromSec: number; readonly toSec: number },
  plan: KeptPlan | null,
  x: (sec: number) => number,
  width: number,
): Pick<CentsLayout, 'timeTicks' | 'inBars'> {
  const bars = barsOf(plan).filter(({ sec, label }) => label !== '' && sec >= span.fromSec - 0.5 && sec <= span.toSec);
  if (bars.length === 0) {
    const ticks = evenTicks(span.fromSec, span.toSec, width / 70);
    return { inBars: false, timeTicks: ticks.map((sec) => ({ at: x(sec), words: clock(sec, 0) })) };
  }
  const step = barStep((usualBarSec(bars) / (span.toSec - span.fromSec)) * width, LEAST_BAR_PX);
  return {
    inBars: true,
    timeTicks: bars
      .filter(({ label }) => (Number(label) - 1) % step === 0)
      .map(({ sec, label }) => ({ at: Math.max(x(span.fromSec), x(sec)), words: label })),
  };
}
