import { existsSync } from 'node:fs';
import { statfs } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import type { Session } from '../../../core/session/schema.ts';
import { PartsongError, throwIfCancelled } from '../../../core/signal/fault.ts';
import { BYTES_PER_SAMPLE } from '../../../core/wave/format.ts';
import type { JobView, RenderView } from '../../shell/contract/desk-view.ts';
import type { Cache } from '../cache.ts';
import { type KeptRender, newestRender, RENDER_KEY, rememberRender, renderKey } from '../kept-render.ts';
import { RenderFolder } from '../render-folder.ts';
import { type RenderPlan, renderFiles, renderMix, stemNamesOf, takesIn } from '../render-mix.ts';
import { refuseSources } from '../source-guard.ts';
import { workFault } from '../work-fault.ts';
import type { Bench } from './bench.ts';
import { leftSec } from './job-views.ts';
import type { SideWork } from './side-works.ts';

/** Where a copy for upload and its report need no more room than this, bytes. */
const SMALL_BYTES = 4_000_000;
/** Bytes a second of a copy at 320 kbit/s, with room for lossless ones. */
const COPY_BYTES_PER_FRAME = 4;

/** The render of an open session: one at a time, and the newest that was finished. */
export class RenderWork implements SideWork {
  readonly #cache: Cache;
  #kept: KeptRender | undefined;
  #job: { id: string; title: string; fraction: number; beganMs: number; stop: AbortController } | undefined;
  #running: Promise<void> = Promise.resolve();
  #count = 0;

  constructor(cache: Cache) {
    this.#cache = cache;
    this.#kept = newestRender(cache);
  }

  /** The newest finished render, as it stands to this session. */
  view(session: Session): RenderView | null {
    return this.#kept === undefined ? null : { ...this.#kept.view, current: this.#kept.key === renderKey(session) };
  }

  jobs(): JobView[] {
    if (this.#job === undefined) return [];
    const { id, title, fraction, beganMs } = this.#job;
    return [{ id, kind: 'render', title, fraction, leftSec: leftSec(fraction, Date.now() - beganMs), canStop: true }];
  }

  /** False when it is no render's id. */
  stop(jobId: string): boolean {
    if (this.#job?.id !== jobId) return false;
    this.#job.stop.abort();
    return true;
  }

  /** Throws PartsongError 'bad-option' while a render is under way. */
  refuseSecond(): void {
    if (this.#job === undefined) return;
    throw new PartsongError('bad-option', 'A mix is being made already.', 'Wait until it is finished, or stop it.');
  }

  /**
   * Begins a render; gives its job's id. ready: gives the plan once everything it is made from is there. Faults that can
   * be known before any work are thrown at once: 'bad-option' where another is under way, and those of the target.
   */
  begin(
    bench: Bench,
    target: string,
    ready: (signal: AbortSignal) => Promise<{ plan: RenderPlan; session: Session }>,
    onEnd: (fault: unknown) => void,
    onMove: () => void,
  ): string {
    this.refuseSecond();
    const stop = new AbortController();
    const job = {
      id: `job-render-${++this.#count}`,
      title: 'Making the mix ready',
      fraction: 0,
      beganMs: Date.now(),
      stop,
    };
    this.#job = job;
    const work = async (): Promise<void> => {
      const { plan, session } = await ready(stop.signal);
      job.beganMs = Date.now();
      const shares = shareOf(plan);
      await this.#make(bench, resolve(target), plan, session, stop.signal, (step) => {
        job.title = step;
        const [from, to] = shares(step);
        onMove();
        return (fraction) => {
          job.fraction = Math.max(job.fraction, from + (to - from) * fraction);
        };
      });
    };
    this.#running = work().then(
      () => this.#end(onEnd, undefined),
      (fault: unknown) => this.#end(onEnd, fault),
    );
    return job.id;
  }

  async close(): Promise<void> {
    this.#job?.stop.abort();
    await this.#running;
  }

  usedKeys(): string[] {
    return [RENDER_KEY];
  }

  #end(onEnd: (fault: unknown) => void, fault: unknown): void {
    this.#job = undefined;
    onEnd(fault);
  }

  async #make(
    bench: Bench,
    target: string,
    plan: RenderPlan,
    session: Session,
    signal: AbortSignal,
    onStep: (step: string) => (fraction: number) => void,
  ): Promise<void> {
    const stemNames = stemNamesOf(plan.parts.map(({ take }) => take.name));
    const files = renderFiles(plan.stems ? stemNames : [], plan.copy);
    await refuseSources(
      files.map((name) => join(target, name)),
      plan.parts
        .flatMap(takesIn)
        .map(({ taken }) => taken.file)
        .filter(existsSync),
    );
    const folder = await RenderFolder.open(target, files);
    let kept = false;
    try {
      await refuseSmallDisk(folder.target, plan);
      const { report, mix } = await renderMix(folder, plan, bench.pool, { signal, onStep });
      throwIfCancelled(signal);
      await folder.keep();
      kept = true;
      const { limiterMaxDb } = mix;
      this.#kept = await rememberRender(this.#cache, session, { folder: folder.target, files, report, limiterMaxDb });
    } catch (error) {
      throw workFault(error, folder.target);
    } finally {
      if (!kept) await folder.abandon();
    }
  }
}

/** Refuses a target that cannot be written, before any work. Throws PartsongError 'target-unwritable' | 'target-full'. */
export async function checkTarget(target: string): Promise<void> {
  const folder = await RenderFolder.open(target, []);
  await folder.abandon();
}

/** Told before long work ends in a full disk. Throws PartsongError 'target-full'. */
export async function refuseSmallDisk(folder: string, plan: RenderPlan): Promise<void> {
  const { lengthFrames, parts, wave, copy, stems } = plan;
  const perFrame =
    2 * BYTES_PER_SAMPLE[wave] + 8 + (stems ? 4 * parts.length : 0) + (copy === null ? 0 : COPY_BYTES_PER_FRAME);
  const wanted = perFrame * lengthFrames + SMALL_BYTES;
  const disk = await statfs(folder).catch(() => undefined);
  if (disk === undefined || disk.bavail * disk.bsize >= wanted) return;
  const mb = (bytes: number): string => `${Math.ceil(bytes / 1e6)} MB`;
  throw new PartsongError(
    'target-full',
    `The render needs ${mb(wanted)} on the disk of ${folder}, and ${mb(disk.bavail * disk.bsize)} are free.`,
    'Make room, leave the stems out, or choose a folder on another disk.',
    folder,
  );
}

/** Which part of the whole a step is, from how long they were seen to take. */
function shareOf({ stems, copy }: RenderPlan): (step: string) => readonly [number, number] {
  const laid = stems ? 0.3 : 0;
  const mixed = copy === null ? 1 : 0.85;
  return (step) => (step.startsWith('Laying') ? [0, laid] : step === 'Mixing' ? [laid, mixed] : [mixed, 1]);
}
