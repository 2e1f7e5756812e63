import type { HeardNote } from './heard-notes.ts';
import type { PitchVerdict } from './pitch-verdict.ts';

/** The pitch of a take, in its own time. Plain JSON. */
export interface TrackedPitch {
  /** Frame n of the curve lies at firstSec + n hopSec. */
  readonly hopSec: number;
  readonly firstSec: number;
  readonly frames: number;
  readonly verdict: PitchVerdict;
  readonly notes: readonly HeardNote[];
}
