import { type Clock, takeSecOf } from '../signal/clock.ts';
import { SESSION_RATE_HZ } from '../signal/time.ts';
import type { KeptPlan } from './kept-plan.ts';

/** The guide's silence in the time of a take that lies at a place, s; it may reach beyond the take. */
export function silenceInTake(plan: KeptPlan, place: Clock): { fromSec: number; toSec: number } {
  const at = (frame: number): number => takeSecOf(place, frame / SESSION_RATE_HZ);
  return { fromSec: at(plan.silence.fromFrame), toSec: at(plan.silence.toFrame) };
}
