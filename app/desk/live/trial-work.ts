import { resolve } from 'node:path';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Take } from '../../../core/session/schema.ts';
import { CancelledError, PartsongError } from '../../../core/signal/fault.ts';
import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import type { FaultView, JobView } from '../../shell/contract/desk-view.ts';
import type { TrialView } from '../../shell/contract/guide-view.ts';
import { Cache } from '../cache.ts';
import { knocksIn } from '../check-clips.ts';
import type { Desk } from '../desk.ts';
import { keptGuideFile } from '../guide-file.ts';
import { lineUpTaken } from '../line-up-taken.ts';
import { bareName } from '../names.ts';
import { isUnplaced } from '../placement.ts';
import { heardOf, type TakenIn, takeInClips } from '../take-in.ts';
import { workFault } from '../work-fault.ts';
import { leftSec } from './job-views.ts';
import type { SideWork } from './side-works.ts';

/** What the sound check needs of the open session. */
export interface TrialDesk {
  readonly desk: Desk;
  /** The guide where it has a plan and was read. */
  guide(): { readonly taken: TakenIn; readonly plan: KeptPlan } | undefined;
  /** A take of the session; `taken` once it was read. */
  take(takeId: string): { readonly take: Take; readonly file: string; readonly taken: TakenIn | undefined } | undefined;
  /** The jobs, or the trials, have changed. */
  onMove(): void;
  inWords(error: unknown): FaultView;
}

interface Job {
  readonly trialId: string;
  readonly name: string;
  readonly beganMs: number;
  readonly stop: AbortController;
  fraction: number;
}

/** The cache entry that keeps the trials. */
const TRIALS_KEY = Cache.keyOf('trials');
const MOST_TRIALS = 40;
/** Shares of the whole that reading and finding the guide take, as they were seen to. */
const READ_SHARE = 0.45;
const FOUND_SHARE = 0.6;

/** The sound check of an open session: what was checked, newest first, over a restart too. */
export class TrialWork implements SideWork {
  readonly #of: TrialDesk;
  readonly #jobs = new Map<string, Job>();
  readonly #running = new Set<Promise<void>>();
  #trials: readonly TrialView[];
  #closed = false;

  constructor(of: TrialDesk) {
    this.#of = of;
    this.#trials = of.desk.cache.record<TrialView[]>(TRIALS_KEY) ?? [];
  }

  get trials(): readonly TrialView[] {
    return this.#trials;
  }

  jobs(): JobView[] {
    return [...this.#jobs.values()].map(({ trialId, name, fraction, beganMs }) => ({
      id: `job-${trialId}`,
      kind: 'check',
      title: `Checking ${name}`,
      fraction,
      leftSec: leftSec(fraction, Date.now() - beganMs),
      canStop: true,
    }));
  }

  /** Stops the job with this id; false when it is none of these. */
  stop(jobId: string): boolean {
    const job = [...this.#jobs.values()].find(({ trialId }) => `job-${trialId}` === jobId);
    job?.stop.abort();
    return job !== undefined;
  }

  checkClip({ file }: CallInput<'checkClip'>): CallOutput<'checkClip'> {
    return this.#check(bareName(file), resolve(file), null);
  }

  checkTake({ takeId }: CallInput<'checkTake'>): CallOutput<'checkTake'> {
    const found = this.#of.take(takeId);
    if (found === undefined) {
      throw new PartsongError('bad-option', 'There is no such take any more.', 'Choose another.');
    }
    return this.#check(found.take.name, found.file, takeId);
  }

  forget({ trialId }: CallInput<'forgetTrial'>): null {
    this.#jobs.get(trialId)?.stop.abort();
    this.#set(this.#trials.filter((trial) => trial.id !== trialId));
    return null;
  }

  /** The clip of a trial. */
  fileOf(trialId: string): string | undefined {
    return this.#trials.find((trial) => trial.id === trialId)?.file;
  }

  usedKeys(): string[] {
    return [TRIALS_KEY];
  }

  async close(): Promise<void> {
    this.#closed = true;
    for (const { stop } of this.#jobs.values()) stop.abort();
    await Promise.all(this.#running);
  }

  #check(name: string, file: string, takeId: string | null): { trialId: string } {
    const numbers = this.#trials.map(({ id }) => Number(id.slice('trial-'.length)) || 0);
    const id = `trial-${Math.max(0, ...numbers) + 1}`;
    const trial: TrialView = {
      id,
      name,
      file,
      takeId,
      state: 'working',
      fault: null,
      check: null,
      lengthSec: null,
      guideFound: null,
      notes: [],
    };
    this.#jobs.set(id, { trialId: id, name, beganMs: Date.now(), stop: new AbortController(), fraction: 0 });
    this.#set([trial, ...this.#trials].slice(0, MOST_TRIALS));
    const work = this.#run(trial).finally(() => this.#running.delete(work));
    this.#running.add(work);
    return { trialId: id };
  }

  async #run(trial: TrialView): Promise<void> {
    const job = this.#jobs.get(trial.id)!;
    try {
      const done = await this.#listen(trial, job);
      this.#jobs.delete(trial.id);
      this.#put(done);
    } catch (error) {
      this.#jobs.delete(trial.id);
      if (error instanceof CancelledError || job.stop.signal.aborted) {
        this.#set(this.#trials.filter(({ id }) => id !== trial.id));
      } else this.#put({ ...trial, state: 'faulty', fault: this.#of.inWords(workFault(error, trial.file)) });
    }
  }

  async #listen(trial: TrialView, job: Job): Promise<TrialView> {
    const { cache, pool, folder } = this.#of.desk;
    const { signal } = job.stop;
    const part = (from: number, to: number) => (fraction: number) => {
      job.fraction = from + (to - from) * fraction;
    };
    const known = trial.takeId === null ? undefined : this.#of.take(trial.takeId);
    const [taken] =
      known?.taken === undefined
        ? await takeInClips([trial.file], cache, pool, { signal, onProgress: part(0, READ_SHARE) })
        : [known.taken];
    const guide = this.#of.guide();
    const placement =
      guide === undefined
        ? undefined
        : (
            await lineUpTaken([taken!], guide.taken, cache, pool, {
              signal,
              plan: guide.plan,
              onProgress: part(READ_SHARE, FOUND_SHARE),
            })
          )[0]!;
    const full = guide === undefined ? undefined : await keptGuideFile(folder, guide.taken.fingerprint);
    const { soundPath, rateHz, study, fold, notes, lengthFrames } = taken!;
    const check = await pool.run(
      'checkTake',
      {
        soundPath,
        rateHz,
        study,
        heard: heardOf(taken!),
        fold: fold.reason,
        guideKnocksSec: full === undefined ? [] : knocksIn(full.plan, placement),
      },
      { signal, onProgress: part(FOUND_SHARE, 1) },
    );
    return {
      ...trial,
      state: 'checked',
      check,
      lengthSec: lengthFrames / rateHz,
      guideFound: placement === undefined ? null : !isUnplaced(placement),
      notes,
    };
  }

  #put(trial: TrialView): void {
    this.#set(this.#trials.map((one) => (one.id === trial.id ? trial : one)));
  }

  #set(trials: readonly TrialView[]): void {
    if (this.#closed) return;
    this.#trials = trials;
    const settled = trials.filter(({ state }) => state !== 'working');
    this.#of.desk.cache.keep(TRIALS_KEY, settled);
    this.#of.onMove();
  }
}
