import type { JobView } from '../../shell/contract/desk-view.ts';
import type { Entry, Stage } from './ledger.ts';

/** How a stage is shown; stages without work worth showing are left out. */
const SHOWN: Partial<Record<Stage, { kind: JobView['kind']; title: (count: number) => string }>> = {
  takeIn: { kind: 'takeIn', title: (count) => `Reading ${clips(count)}` },
  lineUp: { kind: 'lineUp', title: () => 'Lining up' },
  clean: { kind: 'clean', title: (count) => `Cleaning ${takes(count)}` },
  mend: { kind: 'mend', title: (count) => `Mending ${takes(count)}` },
  measure: { kind: 'measure', title: (count) => `Measuring ${takes(count)}` },
  proxy: { kind: 'proxy', title: (count) => `Making small copies of ${clips(count)} for looking at` },
  pitch: { kind: 'pitch', title: (count) => `Listening to timing and pitch of ${takes(count)}` },
  master: { kind: 'measure', title: () => 'Measuring the mix' },
};

/** Time left is told only when so much is done in so long a time. */
const TOLD_FROM_SHARE = 0.05;
const TOLD_FROM_MS = 800;

/** A stretch of work of one stage without a pause: all that began and ended in it is one job on the screen. */
interface Batch {
  readonly id: string;
  readonly beganMs: number;
  readonly members: Set<Entry>;
  fraction: number;
}

/** Sums entries of a ledger up as jobs. */
export function jobViews(): { of(entries: readonly Entry[]): JobView[]; stageOf(jobId: string): Stage | undefined } {
  const batches = new Map<Stage, Batch>();
  let count = 0;
  return {
    of(entries) {
      const views: JobView[] = [];
      for (const stage of Object.keys(SHOWN) as Stage[]) {
        const active = entries.filter((entry) => entry.stage === stage && isActive(entry));
        if (active.length === 0) {
          batches.delete(stage);
          continue;
        }
        let batch = batches.get(stage);
        if (batch === undefined) {
          batch = { id: `job-${stage}-${++count}`, beganMs: Date.now(), members: new Set(), fraction: 0 };
          batches.set(stage, batch);
        }
        for (const entry of active) batch.members.add(entry);
        views.push(viewOf(stage, batch));
      }
      return views;
    },
    stageOf: (jobId) => [...batches].find(([, batch]) => batch.id === jobId)?.[0],
  };
}

function viewOf(stage: Stage, batch: Batch): JobView {
  const shown = SHOWN[stage]!;
  let done = 0;
  for (const entry of batch.members) done += isActive(entry) ? entry.fraction : 1;
  // More may have come into the batch; what is shown never goes back.
  batch.fraction = Math.max(batch.fraction, done / batch.members.size);
  return {
    id: batch.id,
    kind: shown.kind,
    title: shown.title(batch.members.size),
    fraction: Math.round(batch.fraction * 1000) / 1000,
    leftSec: leftSec(batch.fraction, Date.now() - batch.beganMs),
    canStop: true,
  };
}

/** Seconds left by how long the share took that is done; null where that says nothing yet. */
export function leftSec(fraction: number, spentMs: number): number | null {
  if (fraction < TOLD_FROM_SHARE || spentMs < TOLD_FROM_MS) return null;
  return Math.ceil((spentMs / 1000 / fraction) * (1 - fraction));
}

function isActive({ standing }: Entry): boolean {
  return standing.state === 'waiting' || standing.state === 'running';
}

function clips(count: number): string {
  return count === 1 ? 'a clip' : `${count} clips`;
}

function takes(count: number): string {
  return count === 1 ? 'a take' : `${count} takes`;
}
