import { resolve } from 'node:path';
import type { Edit } from '../../../core/session/edit.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { ClipRef } from '../../../core/session/schema.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { probe } from '../../media/probe.ts';
import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import type { FaultView, JobView } from '../../shell/contract/desk-view.ts';
import type { Desk } from '../desk.ts';
import { guideFileBeside, isAsLong, keepGuideFile, keptGuideFile, keptPlanOf } from '../guide-file.ts';
import {
  type ClipFound,
  type ClipWhere,
  clipsWhere,
  GUIDE_ID,
  identifyClip,
  relinkEdit,
  searchClips,
} from '../missing-clips.ts';
import { takenBefore } from '../take-in.ts';
import { additionOf, type Looked, lookInto } from './add-clips.ts';
import { guideEdit } from './guide-edit.ts';
import { leftSec } from './job-views.ts';
import type { SideWork } from './side-works.ts';

/** What calls about clips need of the open session. */
export interface ClipDesk {
  readonly desk: Desk;
  /** Applies an edit of the user; throws CancelledError once the session is closed. */
  apply(edit: Edit): void;
  /** Files may lie elsewhere now: all are to be looked at anew. */
  lookAnew(): void;
  /** The jobs have changed. */
  onMove(): void;
  inWords(error: unknown): FaultView;
}

/** Brings clips into an open session, and finds those that are missing. */
export class ClipCalls implements SideWork {
  readonly #of: ClipDesk;
  #search:
    | { readonly id: string; readonly beganMs: number; readonly stop: AbortController; fraction: number }
    | undefined;
  #searches = 0;

  constructor(of: ClipDesk) {
    this.#of = of;
  }

  async addClips({ files, voiceId }: CallInput<'addClips'>): Promise<CallOutput<'addClips'>> {
    const { desk, inWords } = this.#of;
    if (voiceId !== null && !desk.session.voices.some((voice) => voice.id === voiceId)) throw noSuch('voice');
    const { clips, faults } = await this.#look(files);
    const addition = additionOf(desk.session, clips, voiceId, (file) => desk.keptPath(file));
    if (addition.edit !== undefined) this.#of.apply(addition.edit);
    return { added: addition.added, refused: [...faults, ...addition.repeated].map(inWords) };
  }

  async setGuide({ file }: CallInput<'setGuide'>): Promise<null> {
    if (file === null) {
      this.#applyGuide(null, null);
      return null;
    }
    const { clips, faults } = await this.#look([file]);
    const [clip] = clips;
    if (clip === undefined) throw faults[0];
    const { sizeBytes, fingerprint } = clip;
    const path = this.#of.desk.keptPath(clip.file);
    const { folder } = this.#of.desk;
    const found = await guideFileBeside(clip.file);
    const beside = found !== undefined && isAsLong(found, (await probe(clip.file)).lengthSec) ? found : undefined;
    // A folder that takes no files is told by the saving of the session; the guide serves all the same.
    if (beside !== undefined) await keepGuideFile(folder, fingerprint, beside).catch(() => undefined);
    this.#applyGuide(
      { path, sizeBytes, fingerprint },
      keptPlanOf(beside ?? (await keptGuideFile(folder, fingerprint))),
    );
    return null;
  }

  #applyGuide(clip: ClipRef | null, plan: KeptPlan | null): void {
    const edit = guideEdit(this.#of.desk.session, clip, plan);
    if (edit !== undefined) this.#of.apply(edit);
  }

  async relink({ takeId, file, evenIfOther }: CallInput<'relink'>): Promise<CallOutput<'relink'>> {
    const { desk } = this.#of;
    const { session } = desk;
    const clip = takeId === GUIDE_ID ? session.guide?.clip : session.takes.find((one) => one.id === takeId)?.clip;
    if (clip === undefined) throw noSuch('take');
    const path = resolve(file);
    const { clips, faults } = await this.#look([path]);
    if (clips.length === 0) throw faults[0];
    const { sizeBytes, fingerprint } = await identifyClip(path);
    const isOther = fingerprint !== clip.fingerprint;
    if (isOther && !evenIfOther) return { relinked: false, isOther };
    // Takes that are parts of one clip are found together.
    const isOfClip = (other: ClipRef): boolean => other.path === clip.path && other.fingerprint === clip.fingerprint;
    const ids = takeId === GUIDE_ID ? [takeId] : session.takes.flatMap((one) => (isOfClip(one.clip) ? [one.id] : []));
    const found = ids.map((id) => ({ takeId: id, file: path, clip: { path, sizeBytes, fingerprint } }));
    this.#of.apply(relinkEdit(found, (one) => desk.keptPath(one)));
    this.#of.lookAnew();
    return { relinked: true, isOther };
  }

  async searchMissing({ folder }: CallInput<'searchMissing'>): Promise<CallOutput<'searchMissing'>> {
    const { desk } = this.#of;
    this.#search?.stop.abort();
    const stop = new AbortController();
    const search = { id: `job-search-${++this.#searches}`, beganMs: Date.now(), stop, fraction: 0 };
    this.#search = search;
    this.#of.onMove();
    try {
      const { signal } = stop;
      const where = await clipsWhere(desk.session, desk.folder, { signal });
      const wanted = where.filter((clip) => clip.state !== 'there');
      const onProgress = (fraction: number): void => {
        search.fraction = fraction;
      };
      const { found } = await searchClips(resolve(folder), wanted, { signal, onProgress });
      if (found.length > 0) this.#of.apply(relinkEdit(found, (one) => desk.keptPath(one)));
      this.#of.lookAnew();
      return countedClips(wanted, found);
    } finally {
      if (this.#search === search) this.#search = undefined;
      this.#of.onMove();
    }
  }

  /** The search under way. */
  jobs(): JobView[] {
    if (this.#search === undefined) return [];
    const { id, fraction, beganMs } = this.#search;
    const left = leftSec(fraction, Date.now() - beganMs);
    return [{ id, kind: 'search', title: 'Searching for clips', fraction, leftSec: left, canStop: true }];
  }

  /** Stops the search with this id; false when there is none. */
  stop(jobId: string): boolean {
    if (this.#search?.id !== jobId) return false;
    this.#search.stop.abort();
    return true;
  }

  async close(): Promise<void> {
    this.#search?.stop.abort();
  }

  usedKeys(): string[] {
    return [];
  }

  #look(files: readonly string[]): Promise<Looked> {
    return lookInto(files, (known) => takenBefore(known, this.#of.desk.cache) !== undefined);
  }
}

/** How many clips were found and are missing still: takes that are parts of one clip count once. */
function countedClips(wanted: readonly ClipWhere[], found: readonly ClipFound[]): CallOutput<'searchMissing'> {
  const foundIds = new Set(found.map(({ takeId }) => takeId));
  const clips = (isFound: boolean): number =>
    new Set(wanted.flatMap(({ takeId, clip }) => (foundIds.has(takeId) === isFound ? [clip.fingerprint] : []))).size;
  return { found: clips(true), missing: clips(false) };
}

/** The fault of an id that names nothing (any more). */
function noSuch(what: 'voice' | 'take'): PartsongError {
  return new PartsongError('bad-option', `There is no such ${what} any more.`, 'Choose another.');
}
