import { basename } from 'node:path';
import type { PlacementReport } from '../../core/session/report.ts';
import { usualThreads } from '../work/pool.ts';
import { guideFileOf, keptPlanOf } from './guide-file.ts';
import { lineUpTaken } from './line-up-taken.ts';
import { placementReport } from './placement.ts';
import { withScratch } from './scratch.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';

export interface LineUpOptions {
  readonly clips: readonly string[];
  readonly guide?: string | undefined;
  readonly signal?: AbortSignal;
  /** Called at each step with its name; the function it gives takes fractions 0 to 1. */
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** Where each clip lies. */
export interface LineUpReport {
  readonly takes: readonly {
    readonly file: string;
    /** Of a take of a session: what it is called there. */
    readonly name?: string;
    readonly placement: PlacementReport;
    readonly notes: readonly string[];
  }[];
}

/** Lines up clips without making anything. */
export function lineUpClips(options: LineUpOptions): Promise<LineUpReport> {
  const { clips, signal, onStep } = options;
  return withScratch(usualThreads(), async (cache, pool) => {
    const listening = { signal, onProgress: onStep('Listening to the takes') };
    const { takes, guide } = await takeInWithGuide(clips, options.guide, cache, pool, listening);
    const { file, notes } = await guideFileOf(guide);
    const plan = keptPlanOf(file);
    const placements = await lineUpTaken(takes, guide, cache, pool, {
      signal,
      plan,
      onProgress: onStep('Lining up'),
    });
    return {
      takes: takes.map((take, index) => ({
        file: basename(take.file),
        placement: placementReport(placements[index]!),
        notes: [...take.notes, ...notes],
      })),
    };
  });
}
