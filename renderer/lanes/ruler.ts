import { clockText } from '../../core/signal/time.ts';
/** A mark of the ruler: its session time, and its words where it is a main one. */
export interface Tick {
  readonly sec: number;
  readonly label: string | null;
}

/** A bar of the piece: where it begins, and its number for people. */
export interface Bar {
  readonly sec: number;
  readonly label: string;
  /** Where its beats fall, session time, without the first. */
  readonly beatsSec: readonly number[];
}

const COARSE_STEPS_SEC = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600];
const FINEST_STEP_SEC = 1e-5;

/** The step between main ticks, s: the smallest round one of at least `leastPx` pixels. */
export function tickStepSec(secPerPx: number, leastPx: number): number {
  const least = secPerPx * leastPx;
  for (let decade = FINEST_STEP_SEC; decade < 0.5; decade *= 10) {
    for (const lead of [1, 2, 5]) if (lead * decade >= least && lead * decade < 1) return round(lead * decade);
  }
  return COARSE_STEPS_SEC.find((step) => step >= least) ?? Math.ceil(least / 3600) * 3600;
}

/** Ticks from one session time to another, s; labels as minutes and seconds with as many digits as the step needs. */
export function ticksBetween(fromSec: number, toSec: number, secPerPx: number, leastPx = 84): Tick[] {
  const stepSec = tickStepSec(secPerPx, leastPx);
  const digits = Math.max(0, -Math.floor(Math.log10(stepSec) + 1e-9));
  const parts = partsOf(stepSec);
  const ticks: Tick[] = [];
  const first = Math.floor(fromSec / stepSec) * parts;
  for (let n = first; ; n++) {
    const sec = (n * stepSec) / parts;
    if (sec > toSec) return ticks;
    if (sec >= fromSec) ticks.push({ sec, label: n % parts === 0 ? clockText(sec, digits) : null });
  }
}

/** How many small ticks a step is divided into. */
function partsOf(stepSec: number): number {
  const lead = Number(stepSec.toExponential()[0]);
  if (stepSec >= 10) return stepSec === 15 ? 3 : stepSec % 60 === 0 ? 6 : 5;
  return lead === 2 ? 4 : 5;
}

function round(value: number): number {
  return Number(value.toPrecision(6));
}
