import { randomBytes } from 'node:crypto';
import { mkdir, readFile, rm } from 'node:fs/promises';
import { join, relative } from 'node:path';
import type { Session } from '../../../core/session/schema.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { probe } from '../../media/probe.ts';
import { gatherMixed } from '../../picture/gather.ts';
import { type MixedSession, readReport } from '../../picture/session-pictures.ts';
import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import type { JobView, RenderView } from '../../shell/contract/desk-view.ts';
import type { Desk } from '../desk.ts';
import { leftSec } from './job-views.ts';
import { mixFile } from './mix-file.ts';
import type { MixState } from './mix-work.ts';
import type { SideWork } from './side-works.ts';

/** What gathering needs of the open session. */
export interface GatherDesk {
  readonly desk: Desk;
  mixReady(signal: AbortSignal): Promise<MixState>;
  render(): RenderView | null;
  onMove(): void;
}

interface Job {
  readonly id: string;
  readonly beganMs: number;
  readonly stop: AbortController;
  title: string;
  fraction: number;
}

/** What mixing takes of the whole, where it has to be done. */
const MIXED = 0.3;

/** Gathers clips, stems, mix and an edit list of an open session in one folder, one at a time. */
export class GatherWork implements SideWork {
  readonly #of: GatherDesk;
  #job: Job | undefined;
  #running: Promise<unknown> = Promise.resolve();
  #count = 0;

  constructor(of: GatherDesk) {
    this.#of = of;
  }

  jobs(): JobView[] {
    if (this.#job === undefined) return [];
    const { id, title, fraction, beganMs } = this.#job;
    const left = leftSec(fraction, Date.now() - beganMs);
    return [{ id, kind: 'picture', title, fraction: Math.round(fraction * 1000) / 1000, leftSec: left, canStop: true }];
  }

  /** False when it is no such job's id. */
  stop(jobId: string): boolean {
    if (this.#job?.id !== jobId) return false;
    this.#job.stop.abort();
    return true;
  }

  usedKeys(): string[] {
    return [];
  }

  async close(): Promise<void> {
    this.#job?.stop.abort();
    await this.#running;
  }

  /** Resolves when everything lies in the folder. */
  async gather(choices: CallInput<'gatherClips'>): Promise<CallOutput<'gatherClips'>> {
    if (this.#job !== undefined) {
      throw new PartsongError(
        'bad-option',
        'The clips are being gathered already.',
        'Wait until that is done, or stop it.',
      );
    }
    const job: Job = {
      id: `job-gather-${++this.#count}`,
      beganMs: Date.now(),
      stop: new AbortController(),
      ...{ title: 'Gathering the clips', fraction: 0 },
    };
    this.#job = job;
    this.#of.onMove();
    const running = this.#make(job, choices).finally(() => {
      this.#job = undefined;
      this.#of.onMove();
    });
    this.#running = running.catch(() => undefined);
    return running;
  }

  async #make(job: Job, { folder, kind, links }: CallInput<'gatherClips'>): Promise<CallOutput<'gatherClips'>> {
    const { desk } = this.#of;
    const { signal } = job.stop;
    const mix = await this.#of.mixReady(signal);
    const { session } = desk;
    const scratch = join(desk.cache.folder, `gather-${randomBytes(4).toString('hex')}`);
    await mkdir(scratch);
    try {
      let before = 0;
      const mixPath = await mixFile(this.#of, session, mix, join(scratch, 'mix.wav'), {
        signal,
        onBegin: () => {
          before = MIXED;
        },
        onProgress: (fraction) => {
          job.fraction = MIXED * fraction;
        },
      });
      const report = await gatherMixed(
        await this.#mixed(session, mixPath, signal),
        {
          ...{ folder: folder ?? join(desk.folder, 'gathered'), kind, links, signal, trim: undefined },
          onProgress: (fraction) => {
            job.fraction = before + (1 - before) * fraction;
          },
        },
        ({ files, sizeBytes }) => {
          job.title = `Gathering ${files.length} files, ${(sizeBytes / 1e6).toFixed(1)} MB`;
          this.#of.onMove();
        },
      );
      const { list, files, sizeBytes, linked, notes } = report;
      return { folder: report.folder, list, files: files.length, sizeBytes, linked, notes };
    } finally {
      await rm(scratch, { recursive: true, force: true });
    }
  }

  /** The session with its mix, and with the stems of the newest render where it is of the session as it is now. */
  async #mixed(session: Session, mixPath: string, signal: AbortSignal): Promise<MixedSession> {
    const { folder } = this.#of.desk;
    const render = this.#of.render();
    const text = await readFile(join(render?.folder ?? folder, 'report.json'), 'utf8').catch(() => undefined);
    const report = render?.current === true ? readReport(text) : null;
    const stems = [...(report?.stems ?? [])].map(
      ([name, stem]) => [name, relative(folder, join(render!.folder, stem))] as const,
    );
    return {
      ...{ folder, session, mixPath, mix: await probe(mixPath, signal) },
      report: report === null ? null : { ...report, stems: new Map(stems) },
    };
  }
}
