import { basename } from 'node:path';
import type { GuidePlan } from '../../core/guide/guide-plan.ts';
import type { SoundCheck } from '../../core/guide/sound-check.ts';
import type { Placement } from '../../core/session/schema.ts';
import { takeSecOf } from '../../core/signal/clock.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { usualThreads } from '../work/pool.ts';
import { guideFileOf, keptPlanOf } from './guide-file.ts';
import { lineUpTaken } from './line-up-taken.ts';
import { isUnplaced } from './placement.ts';
import { withScratch } from './scratch.ts';
import { heardOf } from './take-in.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';

export interface CheckClipsOptions {
  readonly clips: readonly string[];
  /** The guide the trial was played to; with its `.guide.json` beside it, what leaks from the headphones is measured. */
  readonly guide?: string | undefined;
  readonly signal?: AbortSignal;
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** What the sound check says of each clip. */
export interface CheckReport {
  readonly takes: readonly ({ readonly file: string; readonly notes: readonly string[] } & SoundCheck)[];
}

/** Checks trial takes; makes nothing. Throws PartsongError or CancelledError. */
export function checkClips(options: CheckClipsOptions): Promise<CheckReport> {
  const { clips, signal, onStep } = options;
  return withScratch(Math.min(clips.length, usualThreads()), async (cache, pool) => {
    const listening = {
      signal,
      onProgress: onStep(clips.length === 1 ? 'Listening' : `Listening to ${clips.length} clips`),
    };
    const { takes, guide } = await takeInWithGuide(clips, options.guide, cache, pool, listening);
    const { file, notes } = await guideFileOf(guide);
    const plan = file?.plan;
    const placements =
      guide === undefined || plan === undefined
        ? takes.map(() => undefined)
        : await lineUpTaken(takes, guide, cache, pool, {
            signal,
            plan: keptPlanOf(file),
            onProgress: onStep('Finding the guide in them'),
          });
    const checks = await pool.runAll(
      'checkTake',
      takes.map((take, index) => ({
        soundPath: take.soundPath,
        rateHz: take.rateHz,
        study: take.study,
        heard: heardOf(take),
        fold: take.fold.reason,
        guideKnocksSec: plan === undefined ? [] : knocksIn(plan, placements[index]),
      })),
      { signal, onProgress: onStep('Checking') },
    );
    return {
      takes: takes.map((take, index) => ({
        file: basename(take.file),
        notes: [...take.notes, ...notes],
        ...checks[index]!,
      })),
    };
  });
}

/** Times of the take at which the guide knocks while nobody plays: the clicks of the count-in. */
export function knocksIn(plan: GuidePlan, placement: Placement | undefined): number[] {
  if (placement === undefined || isUnplaced(placement)) return [];
  return plan.clicks
    .filter((click) => click.countIn)
    .map((click) => takeSecOf(placement, click.frame / SESSION_RATE_HZ));
}
