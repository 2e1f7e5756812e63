import { basename } from 'node:path';
import type { Placement } from '../../core/lineup/witness.ts';
import { guideMarks, type KeptPlan } from '../../core/session/kept-plan.ts';
import type { PlacementReport } from '../../core/session/report.ts';
import { type RunOptions, usualThreads, type WorkPool } from '../work/pool.ts';
import { Cache } from './cache.ts';
import { guideFileOf, keptPlanOf } from './guide-file.ts';
import { keptPlacement, placementReport } from './placement.ts';
import { withScratch } from './scratch.ts';
import { STEP_VERSION } from './steps.ts';
import type { TakenIn } from './take-in.ts';
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
    const placements = await lineUpTaken(takes, guide, pool, { signal, plan, onProgress: onStep('Lining up') });
    return {
      takes: takes.map((take, index) => ({
        file: basename(take.file),
        placement: placementReport(keptPlacement(placements[index]!)),
        notes: [...take.notes, ...notes],
      })),
    };
  });
}

/** The key under which the placements of all takes against one another are kept. */
export function togetherKey(takes: readonly Pick<TakenIn, 'key'>[]): string {
  return Cache.keyOf('lineUp', STEP_VERSION.lineUp, null, ...takes.map(({ key }) => key));
}

/** The key under which the placement of a take against a guide is kept. */
export function againstGuideKey(
  taken: Pick<TakenIn, 'key'>,
  guide: Pick<TakenIn, 'key'>,
  plan: KeptPlan | null,
): string {
  const marks = plan === null ? [] : [guideMarks(plan)];
  return Cache.keyOf('lineUp', STEP_VERSION.lineUp, guide.key, taken.key, ...marks);
}

/** Placements of takes that lie in the cache, in their order. plan: that of the guide, where it has one. */
export async function lineUpTaken(
  takes: readonly TakenIn[],
  guide: TakenIn | undefined,
  pool: WorkPool,
  options: RunOptions & { readonly plan?: KeptPlan | null },
): Promise<readonly Placement[]> {
  const { plan, ...running } = options;
  const inputs = [...takes, ...(guide === undefined ? [] : [guide])].map(
    ({ file, soundPath, rateHz, tracePath, trace }) => {
      if (trace === null) throw new RangeError(`${file} was taken in without its trace`);
      return { soundPath, rateHz, tracePath, trace };
    },
  );
  const result = await pool.run(
    'lineUp',
    {
      takes: inputs.slice(0, takes.length).map((input, index) => ({ id: String(index), ...input })),
      guide: inputs[takes.length],
      ...(guide === undefined || plan == null ? {} : { guideMarks: guideMarks(plan) }),
    },
    running,
  );
  return result.placements;
}
