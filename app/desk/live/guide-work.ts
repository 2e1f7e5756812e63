import { existsSync } from 'node:fs';
import { mkdtemp, rm, stat } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import type { Edit } from '../../../core/session/edit.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Session } from '../../../core/session/schema.ts';
import { CancelledError, PartsongError } from '../../../core/signal/fault.ts';
import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import type { JobView } from '../../shell/contract/desk-view.ts';
import type { GuideChoice } from '../../shell/contract/guide-choice.ts';
import type { MadeGuideView } from '../../shell/contract/guide-view.ts';
import { Cache } from '../cache.ts';
import type { Desk } from '../desk.ts';
import { guideFileBeside, keepGuideFile, keptPlanOf } from '../guide-file.ts';
import { type MadeGuide, makeGuide } from '../make-guide.ts';
import { identifyClip } from '../missing-clips.ts';
import { workFault } from '../work-fault.ts';
import { madeGuideEdit } from './guide-edit.ts';
import { guideOptions, versionsOf } from './guide-options.ts';
import { leftSec } from './job-views.ts';
import type { SideWork } from './side-works.ts';

/** What the making of guides needs of the open session. */
export interface GuideDesk {
  readonly desk: Desk;
  /** Applies an edit of the user; throws CancelledError once the session is closed. */
  apply(edit: Edit): void;
  /** The jobs, or what was made, have changed. */
  onMove(): void;
  onFault(fault: unknown): void;
}

/** A finished guide as it is remembered over a restart. */
interface KeptGuide {
  readonly view: Omit<MadeGuideView, 'inUse'>;
  /** Of the sound that the session took as its guide. */
  readonly fingerprint: string;
  /** Of its plan; null for one that a session does not hold. */
  readonly planKey: string | null;
}

interface Job {
  readonly id: string;
  readonly beganMs: number;
  readonly stop: AbortController;
  title: string;
  fraction: number;
}

/** The cache entry that remembers the newest guide. */
const GUIDE_KEY = Cache.keyOf('newest guide');
/** Which of its forms the session takes as its guide: those that lose nothing first, the film last. */
const WORTH = ['.wav', '.flac', '.m4a', '.mp3', '.mp4'];

/** Makes guides for an open session: one at a time, and beside it one for listening before it is made. */
export class GuideWork implements SideWork {
  readonly #of: GuideDesk;
  #kept: KeptGuide | undefined;
  #job: Job | undefined;
  #running: Promise<unknown> = Promise.resolve();
  #heard: { job: Job | undefined; folder: string | undefined; file: string | undefined } = {
    job: undefined,
    folder: undefined,
    file: undefined,
  };
  #count = 0;

  constructor(of: GuideDesk) {
    this.#of = of;
    const kept = of.desk.cache.record<KeptGuide>(GUIDE_KEY);
    if (kept?.view.files.every(({ path }) => existsSync(path))) this.#kept = kept;
  }

  /** The newest guide, as it stands to this session. */
  view(session: Session): MadeGuideView | null {
    if (this.#kept === undefined) return null;
    const { view, fingerprint, planKey } = this.#kept;
    const { guide } = session;
    const isSame = guide !== null && (guide.clip.fingerprint === fingerprint || keyOfPlan(guide.plan) === planKey);
    return { ...view, inUse: isSame };
  }

  jobs(): JobView[] {
    return [this.#job, this.#heard.job].flatMap((job) => {
      if (job === undefined) return [];
      const { id, title, fraction, beganMs } = job;
      const left = leftSec(fraction, Date.now() - beganMs);
      return [{ id, kind: 'guide' as const, title, fraction, leftSec: left, canStop: true }];
    });
  }

  /** Stops the job with this id; false when it is none of these. */
  stop(jobId: string): boolean {
    const job = [this.#job, this.#heard.job].find((one) => one?.id === jobId);
    job?.stop.abort();
    return job !== undefined;
  }

  /** Begins to make a guide; gives its job's id. A score that cannot be read is told at once. */
  async make({ choice }: CallInput<'makeGuide'>): Promise<CallOutput<'makeGuide'>> {
    if (this.#job !== undefined) {
      throw new PartsongError('bad-option', 'A guide is being made already.', 'Wait until it is finished, or stop it.');
    }
    const job = this.#begin('Making the guide');
    this.#job = job;
    this.#of.onMove();
    try {
      const count = choice.formats.length * (await versionsOf(choice));
      const work = this.#make(choice, job, count).catch((fault: unknown) => {
        if (!(fault instanceof CancelledError)) this.#of.onFault(fault);
      });
      this.#running = work.finally(() => this.#end(job));
    } catch (fault) {
      this.#end(job);
      throw fault;
    }
    return { jobId: job.id };
  }

  /** Makes a guide that is only to be heard; the one made before is gone then. */
  async tryOut({ choice, voice }: CallInput<'tryGuide'>): Promise<CallOutput<'tryGuide'>> {
    this.#heard.job?.stop.abort();
    const job = this.#begin('Making the guide to listen to');
    this.#heard.job = job;
    this.#of.onMove();
    const { desk } = this.#of;
    const folder = await mkdtemp(join(tmpdir(), 'partsong-heard-'));
    try {
      if (choice.withTakes) await desk.save();
      const made = await makeGuide({
        ...guideOptions({ ...choice, formats: ['wav'] }, desk.folder, folder, job.stop.signal, () => (fraction) => {
          job.fraction = fraction;
        }),
        forVoice: voice ?? undefined,
      });
      const old = this.#heard.folder;
      if (job !== this.#heard.job) throw new CancelledError();
      this.#heard = { job: undefined, folder, file: join(folder, made.files[0]!.file) };
      if (old !== undefined) await rm(old, { recursive: true, force: true });
      return { lengthSec: made.files[0]!.lengthSec, stamp: this.#count };
    } catch (fault) {
      await rm(folder, { recursive: true, force: true });
      throw fault instanceof CancelledError ? fault : workFault(fault, folder);
    } finally {
      if (this.#heard.job === job) this.#heard.job = undefined;
      this.#of.onMove();
    }
  }

  /** A file of the newest guide by its name. */
  fileOf(name: string): string | undefined {
    return this.#kept?.view.files.find(({ path }) => basename(path) === name)?.path;
  }

  /** The sound made for listening. */
  get heardFile(): string | undefined {
    return this.#heard.file;
  }

  usedKeys(): string[] {
    return [GUIDE_KEY];
  }

  async close(): Promise<void> {
    this.#job?.stop.abort();
    this.#heard.job?.stop.abort();
    await this.#running;
    if (this.#heard.folder !== undefined) await rm(this.#heard.folder, { recursive: true, force: true });
  }

  #begin(title: string): Job {
    return {
      id: `job-guide-${++this.#count}`,
      beganMs: Date.now(),
      stop: new AbortController(),
      title,
      fraction: 0,
    };
  }

  #end(job: Job): void {
    if (this.#job === job) this.#job = undefined;
    this.#of.onMove();
  }

  /** count: files of sound that will be written. */
  async #make(choice: GuideChoice, job: Job, count: number): Promise<void> {
    const { desk } = this.#of;
    const folder = freshFolder(desk.folder);
    let written = 0;
    const onStep = (step: string): ((fraction: number) => void) => {
      const before = written++;
      job.title = step;
      this.#of.onMove();
      return (fraction) => {
        job.fraction = Math.min(0.99, (before + fraction) / count);
      };
    };
    try {
      // It is read from the disk.
      if (choice.withTakes) await desk.save();
      const made = await makeGuide(guideOptions(choice, desk.folder, folder, job.stop.signal, onStep));
      await this.#take(made, choice);
    } catch (fault) {
      await rm(folder, { recursive: true, force: true });
      throw fault instanceof CancelledError ? fault : workFault(fault, folder);
    }
  }

  /** Takes what was made as the guide of the session. */
  async #take(made: MadeGuide, choice: GuideChoice): Promise<void> {
    const { desk } = this.#of;
    const sounds = made.files.filter(({ file, voice }) => voice === null && WORTH.includes(endingOf(file)));
    const [main] = sounds.toSorted((a, b) => WORTH.indexOf(endingOf(a.file)) - WORTH.indexOf(endingOf(b.file)));
    const file = join(made.folder, main!.file);
    const { sizeBytes, fingerprint } = await identifyClip(file);
    const beside = await guideFileBeside(file);
    if (beside !== undefined) await keepGuideFile(desk.folder, fingerprint, beside).catch(() => undefined);
    const clip = { path: desk.keptPath(file), sizeBytes, fingerprint };
    const plan = keptPlanOf(beside);
    const planKey = keyOfPlan(plan);
    this.#kept = { view: await viewOf(made, choice), fingerprint, planKey };
    desk.cache.keep(GUIDE_KEY, this.#kept);
    const { guide } = desk.session;
    // Takes that sound in it do not move its bars: the guide they were played to stays, and so do their places.
    if (choice.withTakes && guide !== null && planKey !== null && keyOfPlan(guide.plan) === planKey) {
      this.#of.onMove();
      return;
    }
    const edit = madeGuideEdit(desk.session, clip, plan);
    if (edit !== undefined) this.#of.apply(edit);
  }
}

const planKeys = new WeakMap<KeptPlan, string>();

/** Tells one plan from another; asked for often, and a plan is never changed. */
function keyOfPlan(plan: KeptPlan | null): string | null {
  if (plan === null) return null;
  let key = planKeys.get(plan);
  if (key === undefined) {
    key = Cache.keyOf('plan', plan);
    planKeys.set(plan, key);
  }
  return key;
}

/**
 * Each guide has a folder of its own: the one before stays as it was, so that undo finds it, and what the player has on
 * the phone is not another one under the same name.
 */
function freshFolder(sessionFolder: string): string {
  for (let n = 1; ; n++) {
    const folder = join(sessionFolder, 'guide', String(n));
    if (!existsSync(folder)) return folder;
  }
}

async function viewOf(made: MadeGuide, choice: GuideChoice): Promise<KeptGuide['view']> {
  const sounds = made.files.map(({ file, voice }) => ({ file, voice, what: whatOf(file) }));
  const files: MadeGuideView['files'][number][] = [];
  for (const { file, voice, what } of [...sounds, { file: made.plan, voice: null, what: 'plan' as const }]) {
    const path = join(made.folder, file);
    files.push({ path, what, voice, sizeBytes: (await stat(path)).size });
  }
  const { folder, title, bars, notes } = made;
  return { folder, title, files, lengthSec: made.files[0]!.lengthSec, bars, notes, choice };
}

function whatOf(file: string): 'sound' | 'picture' {
  return endingOf(file) === '.mp4' ? 'picture' : 'sound';
}

function endingOf(file: string): string {
  return file.slice(file.lastIndexOf('.')).toLowerCase();
}
