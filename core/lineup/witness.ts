import type { Bend } from '../signal/clock.ts';

/** What can testify to a placement. */
export type WitnessKind = 'clap' | 'bleed' | 'onsets' | 'mutual';

/**
 * One piece of evidence for where a take lies: at session time `atSec` the take's clock showed `takeSec`, give or take
 * `uncertaintySec` (one standard deviation). It may also testify to the drift.
 */
export interface Witness {
  readonly kind: WitnessKind;
  /** Session time the evidence is about, s. */
  readonly atSec: number;
  /** The take's own time of that moment, s. */
  readonly takeSec: number;
  /** Session time at which the take's time zero would sound by this witness alone, without drift, s. */
  readonly offsetSec: number;
  /** One standard deviation, s. */
  readonly uncertaintySec: number;
  /** Drift it measured, ppm, where it can measure it. */
  readonly driftPpm?: number;
  readonly driftUncertaintyPpm?: number;
  /** How sure it is that this is the right event at all, 0 to 1. */
  readonly trust: number;
  /** Share of the placement that rests on it, 0 to 1; 0 when it was set aside. */
  readonly weight: number;
  readonly accepted: boolean;
  /** What it says, in a sentence for a musician. */
  readonly note: string;
}

/** A witness before it was weighed. */
export type Testimony = Omit<Witness, 'weight' | 'accepted' | 'offsetSec'> & {
  /** What it leaves in doubt beyond that, s, one standard deviation: it tells how exact a place is, and moves none. */
  readonly doubtSec?: number;
};

/** One moment at which a take was held against the session's time, for a curve of its offset. */
export interface TrailPoint {
  readonly kind: WitnessKind;
  /** Session time, s, to 1e-6. */
  readonly atSec: number;
  /** The take's own time of that moment, s, to 1e-6. */
  readonly takeSec: number;
  /** One standard deviation, s. */
  readonly uncertaintySec: number;
  /** Whether the place goes along with it. */
  readonly accepted: boolean;
}

/** Most points a trail keeps. */
export const MOST_TRAIL_POINTS = 400;

/**
 * Where a take lies on the session's time line, with everything that speaks for it. Plain data.
 * offsetSec: session time at which the take's time zero sounds. driftPpm: how much faster the take's clock runs than
 * the session's, up to the first bend. Take time of session time s without bends: (s - offsetSec) * (1 + driftPpm / 1e6);
 * with them see `takeSecOf`.
 */
export type Placement =
  | {
      readonly kind: 'placed';
      readonly offsetSec: number;
      readonly driftPpm: number;
      /** Where its clock jumps or changes its speed, in order; absent where it runs evenly. */
      readonly bends?: readonly Bend[];
      /** One standard deviation, ppm. */
      readonly driftUncertaintyPpm: number;
      /** One standard deviation in the middle of the evidence, s. */
      readonly uncertaintySec: number;
      /** 0 to 1: how sure it is that this is the right place (not how exact it is). */
      readonly confidence: number;
      /** Farthest that any moment of the take is thought to lie from its place, s, one standard deviation; absent where nothing tells. */
      readonly residualSec?: number;
      /** What was heard of its clock along the take, in order of time, at most MOST_TRAIL_POINTS; absent where nothing was. */
      readonly trail?: readonly TrailPoint[];
      /** Where and why it may lie more than 10 ms from its place, and what to do, in sentences for a musician. */
      readonly warning?: string;
      readonly evidence: readonly Witness[];
    }
  | {
      readonly kind: 'question';
      /** The best that can be offered, for the user to confirm; absent when nothing speaks for any place. */
      readonly best?: { readonly offsetSec: number; readonly driftPpm: number; readonly uncertaintySec: number };
      readonly confidence: number;
      /** What is missing and what to do, in sentences for a musician. */
      readonly reason: string;
      readonly evidence: readonly Witness[];
    };
