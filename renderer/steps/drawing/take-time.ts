import type { SpanView } from '../../../app/shell/contract/desk-view.ts';
import { type Clock, sessionSecOf, takeSecOf } from '../../../core/signal/clock.ts';

/** Where a take lies, as far as times are turned with it. */
export type Lie = Clock;

const NOT_PLACED: Lie = { offsetSec: 0, driftPpm: 0 };

/** The take's own time of a session time, s; an unplaced take counts as beginning with the session. */
export function takeSecAt(sessionSec: number, lie: Lie | null): number {
  return takeSecOf(lie ?? NOT_PLACED, sessionSec);
}

/** The session time of a take's own time, s. */
export function sessionSecAt(takeSec: number, lie: Lie | null): number {
  return sessionSecOf(lie ?? NOT_PLACED, takeSec);
}

/** A stretch of session time in the take's own time, held inside the take; null where it lies outside. */
export function spanInTake(span: SpanView, lie: Lie | null, lengthSec: number): SpanView | null {
  const fromSec = Math.max(0, takeSecAt(span.fromSec, lie));
  const toSec = Math.min(lengthSec, takeSecAt(span.toSec, lie));
  return toSec - fromSec > 0.001 ? { fromSec, toSec } : null;
}
