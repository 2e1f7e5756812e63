import { SESSION_RATE_HZ } from '../signal/time.ts';
import type { KeptPlan } from './kept-plan.ts';

/** The guide's silence in the time of a take that lies at a place, s; it may reach beyond the take. */
export function silenceInTake(
  plan: KeptPlan,
  place: { readonly offsetSec: number; readonly driftPpm: number },
): { fromSec: number; toSec: number } {
  const at = (frame: number): number => (frame / SESSION_RATE_HZ - place.offsetSec) * (1 + place.driftPpm * 1e-6);
  return { fromSec: at(plan.silence.fromFrame), toSec: at(plan.silence.toFrame) };
}
