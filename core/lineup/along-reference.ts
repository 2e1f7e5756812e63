import { clockOf } from '../signal/clock.ts';
import type { Sound } from '../signal/sound.ts';
import type { JumpDoubt } from './clock-doubt.ts';
import { type NoteStep, stepsInNotes } from './follow-notes.ts';
import { sessionSecOn } from './line.ts';
import { type MutualNotes, withoutSteps } from './mutual-notes.ts';
import { residualOf } from './residual.ts';
import { indexAfter } from './step-test.ts';
import { stepped, steppedBy, stretchTrail } from './stepped.ts';
import { trailOf } from './trail.ts';
import { WaveBreaks } from './wave-breaks.ts';
import type { Placement, Testimony } from './witness.ts';

/** What a take's clock does along the one that serves as mark. */
export interface AlongReference {
  /** Testimonies with the jumps of both clocks taken out, for one even line. */
  straight(claps: readonly Testimony[]): Testimony[];
  /** The placement with its own jumps, its trail, and how far it may lie off. */
  bend(placement: Placement): Placement;
}

/**
 * Follows a take along the reference by their notes. referenceSteps: jumps of the reference itself; session time is the
 * reference's own before the first, and goes on evenly where it lost or doubled sound.
 */
export function alongReference(
  sound: Sound,
  notes: MutualNotes | undefined,
  referenceSteps: readonly NoteStep[],
): AlongReference {
  const common = referenceSteps.map(({ takeSec, stepSec }) => ({ fromSec: takeSec, stepSec }));
  const even = notes && withoutSteps(notes, common);
  const line = { leadSec: even?.leadSec ?? 0, driftPpm: 0 };
  const lateness = even?.lateness ?? [];
  const { fine } = even ?? {};
  const { jumps: found, doubts } = stepsInNotes(fine ?? lateness, line, new WaveBreaks(sound), {
    isNoteByNote: fine !== undefined,
  });
  const own = found.map(({ takeSec, stepSec }) => ({ fromSec: sessionSecOn(line, takeSec), stepSec }));
  const jumps = found.map((jump, n) => ({ ...jump, at: indexAfter(lateness, own[n]!.fromSec) }));
  const straightened = even && withoutSteps(even, own);
  return {
    straight: (claps) => {
      const moved = claps.map((one) => ({
        ...one,
        atSec: one.atSec + steppedBy(referenceSteps, one.atSec),
        takeSec: one.takeSec - steppedBy(jumps, one.takeSec),
      }));
      return straightened === undefined ? moved : [...moved, straightened.testimony];
    },
    bend: (placement) => {
      if (placement.kind !== 'placed') return placement;
      const clock = clockOf(stepped(placement, jumps));
      const at = jumps.map((jump) => jump.at);
      const points = even === undefined ? [] : stretchTrail('mutual', even.lateness, at, even.leadSec, 0);
      const trail = trailOf(points, clock);
      const placed = { ...placement, ...(clock.bends === undefined ? {} : { bends: clock.bends }) };
      const residual = residualOf(placed, {
        lengthSec: sound.lengthFrames / sound.rateHz,
        trail,
        withinSec: jumps.map((jump) => jump.withinSec),
        doubts,
        isToldAtMark: true,
      });
      return { ...placed, ...residual, ...(trail.length > 0 ? { trail } : {}) };
    },
  };
}

/** The reference's own placement with its own jumps. */
export function bentReference(placement: Placement, sound: Sound, steps: readonly NoteStep[]): Placement {
  if (placement.kind !== 'placed' || steps.length === 0) return placement;
  const own = steps.map((step) => ({ ...step, stepSec: -step.stepSec }));
  const { bends } = stepped(placement, own);
  const placed = { ...placement, ...(bends === undefined ? {} : { bends }) };
  // Session time is its own up to its first jump.
  const doubts = steps.map(({ takeSec, stepErrorSec }): JumpDoubt => {
    return { atSec: takeSec, side: 'after', likely: 1, offSec: stepErrorSec, jumpSec: stepErrorSec, by: 'mended' };
  });
  const residual = residualOf(placed, {
    lengthSec: sound.lengthFrames / sound.rateHz,
    trail: [],
    withinSec: steps.map((step) => step.withinSec),
    doubts,
  });
  return { ...placed, ...residual };
}
