import { join, resolve } from 'node:path';
import type { Edit } from '../../../core/session/edit.ts';
import { CancelledError, PartsongError } from '../../../core/signal/fault.ts';
import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import type { DeskView, FaultView, Listen } from '../../shell/contract/desk-view.ts';
import type { DeskEvent } from '../../shell/contract/events.ts';
import type { Desk, DeskChange } from '../desk.ts';
import { clipsWhere, GUIDE_ID, identifyClip, relinkEdit, searchClips } from '../missing-clips.ts';
import { additionOf, lookInto } from './add-clips.ts';
import { leftSec } from './job-views.ts';
import { Ledger } from './ledger.ts';
import { findingsFor, needLineUp } from './line-up-work.ts';
import { type MixState, needMix, planOf } from './mix-work.ts';
import { checkTarget, RENDER_KEY, RenderWork } from './render-work.ts';
import { type Bench, type ClipProgress, needClip, needTake, type TakeProgress } from './take-state.ts';
import { ViewKeeper } from './view-keeper.ts';

/** How often progress is told while there is any, ms. */
const PROGRESS_MS = 200;
/** An amended session is looked at again so often in one go; once is enough but for a session that changes meanwhile. */
const MOST_ROUNDS = 4;

/** A search for missing clips under way. */
interface Search {
  readonly id: string;
  readonly beganMs: number;
  readonly stop: AbortController;
  fraction: number;
}

/**
 * An open session at work: takes in what is added, cleans, lines up, balances and measures by itself, and tells its
 * screens. All work follows from the session as it is: after every change it is asked anew what is wanted, what is
 * known by its content is taken, and the rest is begun or stopped. What the line-up finds is put into the session as
 * amendments, which are no steps of undo; after an undo or redo they are put in again from what is known.
 */
export class LiveDesk {
  readonly desk: Desk;
  readonly #tell: (event: DeskEvent) => void;
  readonly #inWords: (error: unknown) => FaultView;
  readonly #ledger: Ledger;
  readonly #bench: Bench;
  readonly #renders: RenderWork;
  readonly #views: ViewKeeper;
  readonly #toldFaults = new Set<string>();
  readonly #whenReady = new Set<() => void>();
  readonly #letGo: (() => void)[];
  #takes: readonly TakeProgress[] = [];
  #guide: ClipProgress | undefined;
  #mix: MixState | undefined;
  #search: Search | undefined;
  #searches = 0;
  #asker: { by: string; seq: number } | undefined;
  #soon = false;
  #closed = false;
  #progress: NodeJS.Timeout | undefined;

  /** tell: where events go. inWords: a fault as people read it. The desk is closed with this. */
  constructor(desk: Desk, tell: (event: DeskEvent) => void, inWords: (error: unknown) => FaultView) {
    this.desk = desk;
    this.#tell = tell;
    this.#inWords = inWords;
    this.#ledger = new Ledger(desk.pool.threads, () => this.#lookSoon());
    this.#bench = {
      ledger: this.#ledger,
      cache: desk.cache,
      pool: desk.pool,
      placed: new Map(),
      anew: new Set(),
      used: new Set(),
      fullPath: (kept) => desk.fullPath(kept),
    };
    this.#renders = new RenderWork(desk.cache);
    this.#views = new ViewKeeper(inWords);
    this.#letGo = [
      desk.onChange((change) => this.#onChange(change)),
      desk.onSaved((saved, fault) => {
        this.#tell({ kind: 'parts', parts: { saved } });
        if (fault !== null) this.#tell({ kind: 'fault', fault: inWords(fault) });
      }),
    ];
    this.#look();
  }

  view(): DeskView {
    const { desk } = this;
    return {
      folder: desk.folder,
      session: desk.session,
      revision: desk.revision,
      undoLabel: desk.undoLabel,
      redoLabel: desk.redoLabel,
      saved: desk.saved,
      recovered: desk.recovered,
      ...this.#views.parts,
    };
  }

  edit({ edit, mergeKey, by, seq }: CallInput<'edit'>): CallOutput<'edit'> {
    this.#asker = { by, seq };
    try {
      this.#ledger.wish();
      this.desk.apply(edit, mergeKey ?? undefined);
    } catch (error) {
      throw refused(error);
    } finally {
      this.#asker = undefined;
    }
    return { revision: this.desk.revision };
  }

  undo(): CallOutput<'undo'> {
    this.#ledger.wish();
    this.desk.undo();
    return { revision: this.desk.revision };
  }

  redo(): CallOutput<'redo'> {
    this.#ledger.wish();
    this.desk.redo();
    return { revision: this.desk.revision };
  }

  async addClips({ files, voiceId }: CallInput<'addClips'>): Promise<CallOutput<'addClips'>> {
    const { session } = this.desk;
    if (voiceId !== null && !session.voices.some((voice) => voice.id === voiceId)) throw noSuch('voice');
    const { clips, faults } = await lookInto(files);
    this.#refuseClosed();
    const addition = additionOf(this.desk.session, clips, voiceId, (file) => this.desk.keptPath(file));
    if (addition.edit !== undefined) this.#apply(addition.edit);
    return { added: addition.added, refused: [...faults, ...addition.repeated].map(this.#inWords) };
  }

  async setGuide({ file }: CallInput<'setGuide'>): Promise<null> {
    if (file === null) {
      this.#apply({ kind: 'setGuide', clip: null });
      return null;
    }
    const { clips, faults } = await lookInto([file]);
    this.#refuseClosed();
    const [clip] = clips;
    if (clip === undefined) throw faults[0];
    const { sizeBytes, fingerprint } = clip;
    this.#apply({ kind: 'setGuide', clip: { path: this.desk.keptPath(clip.file), sizeBytes, fingerprint } });
    return null;
  }

  lineUpAgain({ takeIds }: CallInput<'lineUpAgain'>): null {
    const { takes } = this.desk.session;
    const named = takeIds.length === 0 ? takes : takes.filter((take) => takeIds.includes(take.id));
    for (const take of named) {
      if (take.placement?.by !== 'user') this.#bench.anew.add(take.id);
    }
    this.#ledger.wish();
    this.#ledger.forget('lineUp:');
    this.#lookSoon();
    return null;
  }

  async relink({ takeId, file, evenIfOther }: CallInput<'relink'>): Promise<CallOutput<'relink'>> {
    const { session } = this.desk;
    const clip = takeId === GUIDE_ID ? session.guide?.clip : session.takes.find((one) => one.id === takeId)?.clip;
    if (clip === undefined) throw noSuch('take');
    const path = resolve(file);
    const { clips, faults } = await lookInto([path]);
    if (clips.length === 0) throw faults[0];
    const { sizeBytes, fingerprint } = await identifyClip(path);
    this.#refuseClosed();
    const isOther = fingerprint !== clip.fingerprint;
    if (isOther && !evenIfOther) return { relinked: false, isOther };
    const found = { takeId, file: path, clip: { path, sizeBytes, fingerprint } };
    this.#ledger.forget('look:');
    this.#apply(relinkEdit([found], (one) => this.desk.keptPath(one)));
    this.#lookSoon();
    return { relinked: true, isOther };
  }

  async searchMissing({ folder }: CallInput<'searchMissing'>): Promise<CallOutput<'searchMissing'>> {
    this.#search?.stop.abort();
    const stop = new AbortController();
    const search: Search = { id: `job-search-${++this.#searches}`, beganMs: Date.now(), stop, fraction: 0 };
    this.#search = search;
    this.#tellParts();
    try {
      const where = await clipsWhere(this.desk.session, this.desk.folder, { signal: stop.signal });
      const wanted = where.filter((clip) => clip.state !== 'there');
      const { found, missing } = await searchClips(resolve(folder), wanted, {
        signal: stop.signal,
        onProgress: (fraction) => {
          search.fraction = fraction;
        },
      });
      this.#refuseClosed();
      if (found.length > 0) this.#apply(relinkEdit(found, (one) => this.desk.keptPath(one)));
      this.#ledger.forget('look:');
      this.#lookSoon();
      return { found: found.length, missing: missing.length };
    } finally {
      if (this.#search === search) this.#search = undefined;
      if (!this.#closed) this.#tellParts();
    }
  }

  stopJob({ jobId }: CallInput<'stopJob'>): null {
    if (this.#search?.id === jobId) this.#search.stop.abort();
    else if (!this.#renders.stop(jobId)) this.#ledger.stop(jobId);
    return null;
  }

  async render({ folder, wave, copy, stems }: CallInput<'render'>): Promise<CallOutput<'render'>> {
    const target = folder ?? join(this.desk.folder, 'renders');
    if (this.desk.session.voices.length === 0) {
      throw new PartsongError('bad-option', 'There is nothing to mix yet.', 'Add the clips that you recorded.');
    }
    await checkTarget(target);
    this.#refuseClosed();
    this.#ledger.wish();
    const jobId = this.#renders.begin(
      this.#bench,
      target,
      async (signal) => {
        const { parts } = await this.#mixReady(signal);
        const { session } = this.desk;
        return { plan: planOf(session, parts, { wave, copy, stems }), session };
      },
      (fault) => {
        if (fault !== undefined && !(fault instanceof CancelledError)) {
          this.#tell({ kind: 'fault', fault: this.#inWords(fault) });
        }
        this.#lookSoon();
      },
      () => this.#tellParts(),
    );
    this.#lookSoon();
    return { jobId };
  }

  /** Where a take's sound lies in its own time, so far as it is there; `id` may be 'guide'. */
  soundOf(
    id: string,
    listen: 'before' | 'after',
  ): { soundPath: string; rateHz: number; lengthFrames: number } | undefined {
    const clip = this.#clip(id);
    const { taken } = clip ?? {};
    if (clip === undefined || taken === undefined) return undefined;
    const { rateHz, lengthFrames } = taken;
    if (listen === 'before' || id === GUIDE_ID) return { soundPath: taken.soundPath, rateHz, lengthFrames };
    const sound = 'sound' in clip ? clip.sound : undefined;
    return sound === undefined ? undefined : { soundPath: sound.soundPath, rateHz, lengthFrames };
  }

  /** Where a take lies on the session's time line; undefined while nobody knows. */
  placeOf(id: string): { offsetSec: number; driftPpm: number } | undefined {
    if (id === GUIDE_ID) return this.#guide === undefined ? undefined : { offsetSec: 0, driftPpm: 0 };
    return this.desk.session.takes.find((take) => take.id === id)?.placement ?? undefined;
  }

  /** A take's waveform pyramid; undefined until it is drawn. */
  waveOf(id: string, listen: Exclude<Listen, 'takenAway'>): { path: string; pairs: readonly number[] } | undefined {
    const clip = this.#clip(id);
    if (clip === undefined) return undefined;
    return listen === 'after' && 'after' in clip ? clip.after : clip.before;
  }

  /** The clip itself. */
  clipOf(id: string): string | undefined {
    return this.#clip(id)?.file;
  }

  /** Resolves when nothing is at work any more. For tests and measurements. */
  async idle(): Promise<void> {
    while (this.#soon || this.#isBusy()) await new Promise((done) => setTimeout(done, 10));
  }

  /** Stops all work and closes the desk, saving first; see Desk.close. */
  async close(options: { readonly evenIfUnsaved?: boolean } = {}): Promise<void> {
    if (options.evenIfUnsaved !== true) await this.desk.save();
    this.#closed = true;
    clearInterval(this.#progress);
    for (const letGo of this.#letGo) letGo();
    this.#search?.stop.abort();
    for (const wake of this.#whenReady) wake();
    const settled = !this.#ledger.isBusy('look', 'takeIn', 'wave', 'lineUp', 'clean', 'measure');
    await Promise.all([this.#ledger.close(), this.#renders.close()]);
    // What was not looked at may still be of use.
    if (settled) this.desk.cache.prune(new Set([...this.#bench.used, RENDER_KEY]));
    await this.desk.close({ evenIfUnsaved: true });
  }

  #clip(id: string): ClipProgress | TakeProgress | undefined {
    return id === GUIDE_ID ? this.#guide : this.#takes.find((take) => take.id === id);
  }

  #apply(edit: Edit): void {
    this.#ledger.wish();
    this.desk.apply(edit);
  }

  #refuseClosed(): void {
    if (this.#closed) throw new CancelledError();
  }

  #onChange(change: DeskChange): void {
    const { undoLabel, redoLabel, session } = this.desk;
    const { revision } = change;
    if (change.kind === 'replaced') this.#tell({ kind: 'replaced', revision, session, undoLabel, redoLabel });
    else {
      const isAsked = change.kind === 'edited' && this.#asker !== undefined;
      const by = isAsked ? this.#asker!.by : null;
      const seq = isAsked ? this.#asker!.seq : 0;
      this.#tell({ kind: 'edited', revision, edit: change.edit, by, seq, undoLabel, redoLabel });
    }
    this.#lookSoon();
  }

  #lookSoon(): void {
    if (this.#soon || this.#closed) return;
    this.#soon = true;
    setImmediate(() => {
      this.#soon = false;
      if (!this.#closed) this.#look();
    });
  }

  /** Asks for all the work the session wants, takes over what was found, and tells what is new. */
  #look(): void {
    for (let round = 0; round < MOST_ROUNDS && this.#ask(); round++);
    this.#tellFaults();
    const { session } = this.desk;
    for (const event of this.#views.takesAnew(session, this.#takes, this.#guide)) this.#tell(event);
    this.#tellParts();
    for (const wake of this.#whenReady) wake();
    this.#watchProgress();
  }

  /** One round of asking; true when the session was amended by it, so that another is due. */
  #ask(): boolean {
    const bench = this.#bench;
    bench.used.clear();
    this.#ledger.begin();
    const { session } = this.desk;
    this.#guide = session.guide === null ? undefined : needClip(bench, GUIDE_ID, session.guide.clip);
    this.#takes = session.takes.map((take) => needTake(bench, take));
    const { found, fault } = needLineUp(bench, this.#takes, this.#guide);
    if (fault !== null) this.#noteFault(fault);
    const findings = found === undefined ? undefined : findingsFor(session, found);
    this.#mix = needMix(bench, session, this.#takes, this.#mix);
    this.#ledger.end();
    if (findings === undefined) return false;
    return this.desk.amend(findings);
  }

  #noteFault(fault: unknown): void {
    if (fault === null || fault === undefined || fault instanceof CancelledError) return;
    const view = this.#inWords(fault);
    if (this.#toldFaults.has(view.message)) return;
    this.#toldFaults.add(view.message);
    this.#tell({ kind: 'fault', fault: view });
  }

  #tellFaults(): void {
    for (const { cleanFault } of this.#takes) this.#noteFault(cleanFault);
    this.#noteFault(this.#mix?.fault);
  }

  #tellParts(): void {
    const jobs = this.#ledger.jobs();
    if (this.#search !== undefined) {
      const { id, fraction, beganMs } = this.#search;
      const left = leftSec(fraction, Date.now() - beganMs);
      jobs.push({ id, kind: 'search', title: 'Searching for clips', fraction, leftSec: left, canStop: true });
    }
    const render = this.#renders.job();
    if (render !== undefined) jobs.push(render);
    const parts = this.#views.partsAnew({
      session: this.desk.session,
      blend: this.#mix?.view ?? null,
      render: this.#renders.view(this.desk.session),
      jobs,
      busy: {
        takes: this.#ledger.isBusy('look', 'takeIn'),
        clean: this.#ledger.isBusy('clean'),
        lineUp: this.#ledger.isBusy('lineUp'),
        blend: this.#ledger.isBusy('measure', 'master'),
        render: render !== undefined,
      },
    });
    if (parts !== undefined) this.#tell({ kind: 'parts', parts });
  }

  #isBusy(): boolean {
    return (
      this.#ledger.isBusy('look', 'takeIn', 'wave', 'lineUp', 'clean', 'measure', 'master') ||
      this.#search !== undefined ||
      this.#renders.job() !== undefined
    );
  }

  #watchProgress(): void {
    if (this.#progress !== undefined || !this.#isBusy()) return;
    this.#progress = setInterval(() => {
      this.#tellParts();
      if (this.#isBusy()) return;
      clearInterval(this.#progress);
      this.#progress = undefined;
    }, PROGRESS_MS);
  }

  /** The mix when nothing is waited for any more. */
  async #mixReady(signal: AbortSignal): Promise<MixState> {
    for (;;) {
      if (signal.aborted || this.#closed) throw new CancelledError();
      const mix = this.#mix;
      if (mix?.fault != null) throw mix.fault;
      if (mix?.settled) return mix;
      if (!this.#soon && !this.#isWorking()) throw notReady();
      await new Promise<void>((done) => {
        const wake = (): void => {
          this.#whenReady.delete(wake);
          signal.removeEventListener('abort', wake);
          done();
        };
        this.#whenReady.add(wake);
        signal.addEventListener('abort', wake);
      });
    }
  }

  #isWorking(): boolean {
    return this.#ledger.isBusy('look', 'takeIn', 'lineUp', 'clean', 'measure', 'master');
  }
}

function refused(error: unknown): unknown {
  if (!(error instanceof RangeError)) return error;
  return new PartsongError(
    'bad-option',
    `The session cannot be changed so: ${error.message}.`,
    'It was left as it is; try again.',
    undefined,
    { cause: error },
  );
}

function noSuch(what: 'voice' | 'take'): PartsongError {
  return new PartsongError('bad-option', `There is no such ${what} any more.`, 'Choose another.');
}

function notReady(): PartsongError {
  return new PartsongError(
    'bad-option',
    'There is no take that can be mixed.',
    'Look at the steps before this one; their sentences say what is missing.',
  );
}
