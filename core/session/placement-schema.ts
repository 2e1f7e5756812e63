import { z } from 'zod';

export const secondsSchema = z.number().finite();

export const spanSchema = z
  .strictObject({ fromSec: secondsSchema, toSec: secondsSchema })
  .refine((value) => value.toSec > value.fromSec, 'toSec must be after fromSec');

const witnessKinds = ['clap', 'bleed', 'onsets', 'mutual', 'user'] as const;

/** One piece of evidence for a placement; see core/lineup/witness.ts. */
export const witness = z.strictObject({
  kind: z.enum(witnessKinds),
  /** Session time the evidence is about, and the take's own time of that moment. */
  atSec: secondsSchema,
  takeSec: secondsSchema,
  /** Session time at which the take's time zero would sound by this witness alone. */
  offsetSec: secondsSchema,
  uncertaintySec: z.number().nonnegative(),
  /** Share of the placement that rests on it, 0 to 1. */
  weight: z.number().min(0).max(1),
  accepted: z.boolean(),
  note: z.string(),
  /**
   * A moment that the user pinned to its place; see anchors.ts. `jumpTakeSec`: the take's time between the anchor before and
   * this one at which sound is missing, null where none is.
   */
  anchor: z.strictObject({ jumpTakeSec: secondsSchema.nullable() }).optional(),
});

/** Most bends of a clock, and the farthest that it may run off and jump. */
export const MOST_BENDS = 50;
export const STEEPEST_DRIFT_PPM = 2000;
export const LONGEST_JUMP_SEC = 5;
const MOST_TRAIL_POINTS = 400;
const driftSchema = z.number().min(-STEEPEST_DRIFT_PPM).max(STEEPEST_DRIFT_PPM);

const bend = z.strictObject({
  takeSec: secondsSchema,
  jumpSec: z.number().min(-LONGEST_JUMP_SEC).max(LONGEST_JUMP_SEC),
  driftPpm: driftSchema,
});
const bendsSchema = z.array(bend).max(MOST_BENDS).refine(isRising, 'bends must be in order of time');

/** One moment at which a take was held against the session's time: its clock showed `takeSec` at session time `atSec`. */
export const trailPoint = z.strictObject({
  kind: z.enum(witnessKinds),
  atSec: secondsSchema,
  takeSec: secondsSchema,
  /** One standard deviation. */
  uncertaintySec: z.number().nonnegative(),
  accepted: z.boolean(),
});

/** Where a take lies, and how surely. */
const place = {
  offsetSec: secondsSchema,
  driftPpm: driftSchema,
  /** Where its clock jumps or changes its speed, in order; absent where it runs evenly. See core/signal/clock.ts. */
  bends: bendsSchema.optional(),
  uncertaintySec: z.number().nonnegative(),
  driftUncertaintyPpm: z.number().nonnegative(),
  /** Farthest that any moment of the take is thought to lie from its place, s; absent where that is not known. */
  residualSec: z.number().nonnegative().optional(),
};

/** Where the evidence alone had put a take. */
export const foundSchema = z.strictObject({
  ...place,
  warning: z.string().optional(),
  question: z.string().nullable(),
});

/** Where a take lies on the session's time line, with its evidence. */
export const placementSchema = z.strictObject({
  ...place,
  /** What was heard of its clock along the take, for a curve; absent where nothing was. */
  trail: z.array(trailPoint).max(MOST_TRAIL_POINTS).optional(),
  /** Where and why it may lie more than 10 ms off as it was found, and what to do; absent where it does not. */
  warning: z.string().optional(),
  confidence: z.number().min(0).max(1),
  /** A sentence that asks the user, when the evidence does not decide. */
  question: z.string().nullable(),
  by: z.enum(['found', 'user']),
  evidence: z.array(witness),
  /** Where it lay as it was found, once the user laid it elsewhere; absent before, and where nothing was found. */
  found: foundSchema.optional(),
  /** The bends that were found do not count beside the anchors. */
  anchorsAlone: z.literal(true).optional(),
});

function isRising(bends: readonly { readonly takeSec: number }[]): boolean {
  return bends.every((one, n) => n === 0 || one.takeSec > bends[n - 1]!.takeSec);
}
