import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';

/** A border this near to a bar's is meant to be it, s. */
const NEAR_SEC = 0.02;

interface Stretch {
  readonly fromSec: number;
  readonly toSec: number;
}

/** Bars as a guide's plan counts them, first and last; both belong to the stretch. */
export interface BarStretch {
  readonly fromBar: number;
  readonly toBar: number;
}

/** Session time of bars: from the first one's beginning to the last one's end; null where there are no such bars. */
export function secOfBars(plan: KeptPlan, { fromBar, toBar }: BarStretch): Stretch | null {
  const { bars, musicEndFrame } = plan;
  const first = bars.findIndex(({ number }) => number === fromBar);
  const last = bars.findLastIndex(({ number }) => number === toBar);
  if (first < 0 || last < first) return null;
  return {
    fromSec: bars[first]!.frame / SESSION_RATE_HZ,
    toSec: (bars[last + 1]?.frame ?? musicEndFrame) / SESSION_RATE_HZ,
  };
}

/** The bars that a stretch of session time lies in. */
export function barsOfSec(plan: KeptPlan, { fromSec, toSec }: Stretch): BarStretch {
  const at = (sec: number): number => {
    const bar = plan.bars.findLast(({ frame }) => frame / SESSION_RATE_HZ <= sec);
    return (bar ?? plan.bars[0])?.number ?? 1;
  };
  return { fromBar: at(fromSec + NEAR_SEC), toBar: at(Math.max(fromSec + NEAR_SEC, toSec - NEAR_SEC)) };
}

/** Lowest and highest number of a plan's bars. */
export function barNumbers(plan: KeptPlan): { lowest: number; highest: number } {
  const numbers = plan.bars.map(({ number }) => number);
  return { lowest: Math.min(...numbers), highest: Math.max(...numbers) };
}
