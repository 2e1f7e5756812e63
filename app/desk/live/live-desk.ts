import { join } from 'node:path';
import type { Edit } from '../../../core/session/edit.ts';
import { CancelledError, PartsongError } from '../../../core/signal/fault.ts';
import { filtersOfFfmpeg } from '../../picture/abilities.ts';
import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import type { DeskView, FaultView } from '../../shell/contract/desk-view.ts';
import type { DeskEvent } from '../../shell/contract/events.ts';
import type { Desk, DeskChange } from '../desk.ts';
import { planOf } from '../mix-plan.ts';
import { type Asker, changeEvent } from './change-event.ts';
import type { ClipCalls } from './clip-calls.ts';
import { DeskWorks } from './desk-works.ts';
import { FaultTeller } from './fault-teller.ts';
import type { GatherWork } from './gather-work.ts';
import type { GuideWork } from './guide-work.ts';
import type { IntonationWork } from './intonation-work.ts';
import { joinPointsOf } from './join-points.ts';
import { refused, refuseForeignClips } from './live-faults.ts';
import type { PictureWork } from './picture-work.ts';
import { checkTarget, refuseSmallDisk } from './render-work.ts';
import type { SessionSounds } from './session-sounds.ts';
import { SessionWants } from './session-wants.ts';
import { solosOf } from './solos.ts';
import type { TrialWork } from './trial-work.ts';
import { ViewKeeper } from './view-keeper.ts';

/** How often progress is told while there is any, ms. */
const PROGRESS_MS = 200;
/** An amended session is looked at again so often in one go; once is enough but for a session that changes meanwhile. */
const MOST_ROUNDS = 4;

/**
 * An open session at work: takes in what is added, cleans, lines up, balances and measures by itself, and tells its
 * screens. All work follows from the session as it is: after every change it is asked anew what is wanted, what is
 * known by its content is taken, and the rest is begun or stopped. What the line-up finds is put into the session as
 * amendments, which are no steps of undo; after an undo or redo they are put in again from what is known.
 */
export class LiveDesk {
  readonly desk: Desk;
  readonly clips: ClipCalls;
  readonly guides: GuideWork;
  readonly trials: TrialWork;
  readonly sounds: SessionSounds;
  readonly pitch: IntonationWork;
  readonly videos: PictureWork;
  readonly gathering: GatherWork;
  readonly #tell: (event: DeskEvent) => void;
  readonly #faults: FaultTeller;
  readonly #works: DeskWorks;
  readonly #views: ViewKeeper;
  readonly #letGo: (() => void)[];
  readonly #wants = new SessionWants();
  #asker: Asker | undefined;
  #soon = false;
  #closed = false;
  #progress: NodeJS.Timeout | undefined;

  /** tell: where events go. inWords: a fault as people read it. The desk is closed with this. */
  constructor(desk: Desk, tell: (event: DeskEvent) => void, inWords: (error: unknown) => FaultView) {
    this.desk = desk;
    this.#tell = tell;
    this.#faults = new FaultTeller(desk.folder, inWords, (fault) => tell({ kind: 'fault', fault }));
    this.#views = new ViewKeeper(this.#faults.inWords);
    const works = new DeskWorks({
      desk,
      wants: this.#wants,
      faults: this.#faults,
      apply: (edit) => this.#apply(edit),
      lookSoon: () => this.#lookSoon(),
      isStale: () => this.#soon,
      isClosed: () => this.#closed,
      render: () => this.#views.parts.render,
      onMove: () => this.#moved(),
      tellParts: () => this.#tellParts(),
    });
    this.#works = works;
    this.clips = works.clips;
    this.guides = works.guides;
    this.trials = works.trials;
    this.sounds = works.sounds;
    this.pitch = works.pitch;
    this.videos = works.videos;
    this.gathering = works.gathering;
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
    refuseForeignClips(this.desk.session, edit);
    this.#asker = { by, seq };
    try {
      this.#apply(edit, mergeKey ?? undefined);
    } finally {
      this.#asker = undefined;
    }
    return { revision: this.desk.revision };
  }

  undo(): CallOutput<'undo'> {
    this.#works.ledger.wish();
    this.desk.undo();
    return { revision: this.desk.revision };
  }

  redo(): CallOutput<'redo'> {
    this.#works.ledger.wish();
    this.desk.redo();
    return { revision: this.desk.revision };
  }

  lineUpAgain({ takeIds }: CallInput<'lineUpAgain'>): null {
    const { takes } = this.desk.session;
    const named = takeIds.length === 0 ? takes : takes.filter((take) => takeIds.includes(take.id));
    for (const take of named) {
      if (take.placement?.by !== 'user') this.#works.bench.anew.add(take.id);
    }
    this.#works.ledger.wish();
    this.#works.ledger.forget('lineUp:');
    this.#lookSoon();
    return null;
  }

  listenToTakes(): null {
    this.#wants.played.isWanted = true;
    this.#works.ledger.wish();
    this.#lookSoon();
    return null;
  }

  joinPoints(input: CallInput<'joinPoints'>): CallOutput<'joinPoints'> {
    return joinPointsOf(this.#wants.takes, input);
  }

  stopJob({ jobId }: CallInput<'stopJob'>): null {
    if (!this.#works.side.stop(jobId)) this.#works.ledger.stop(jobId);
    return null;
  }

  async preparePictures({ cannotPlay }: CallInput<'preparePictures'>): Promise<CallOutput<'preparePictures'>> {
    this.#wants.pictureWish.isShown = true;
    for (const takeId of cannotPlay) this.#wants.pictureWish.cannotPlay.add(takeId);
    this.#lookSoon();
    return { filters: [...(await filtersOfFfmpeg())] };
  }

  /** Where voices sound alone or clearly lead; of those whose loudness is known by now. */
  findSolos(): CallOutput<'findSolos'> {
    return { solos: Object.fromEntries(solosOf(this.#wants.mix?.parts ?? [])) };
  }

  async render({ folder, wave, copy, stems }: CallInput<'render'>): Promise<CallOutput<'render'>> {
    const target = folder ?? join(this.desk.folder, 'renders');
    if (this.desk.session.voices.length === 0) {
      throw new PartsongError('bad-option', 'There is nothing to mix yet.', 'Add the clips that you recorded.');
    }
    this.#works.renders.refuseSecond();
    await checkTarget(target);
    const choices = { wave, copy, stems };
    if (this.#wants.mix?.settled)
      await refuseSmallDisk(target, planOf(this.desk.session, this.#wants.mix.parts, choices));
    if (this.#closed) throw new CancelledError();
    this.#works.ledger.wish();
    this.#lookSoon();
    const jobId = this.#works.renders.begin(
      this.#works.bench,
      target,
      async (signal) => {
        const { parts, notes } = await this.#works.ready.settled(signal);
        const { session } = this.desk;
        return { plan: planOf(session, parts, choices, notes), session };
      },
      (fault) => {
        this.#faults.tell(fault);
        this.#lookSoon();
      },
      () => this.#tellParts(),
    );
    this.#lookSoon();
    return { jobId };
  }

  /** Resolves when nothing is at work any more. For tests and measurements. */
  async idle(): Promise<void> {
    while (this.#soon || this.#works.isBusy()) await new Promise((done) => setTimeout(done, 10));
  }

  /** Stops all work and closes the desk, saving first; see Desk.close. */
  async close(options: { readonly evenIfUnsaved?: boolean } = {}): Promise<void> {
    if (options.evenIfUnsaved !== true) await this.desk.save();
    this.#closed = true;
    clearInterval(this.#progress);
    for (const letGo of this.#letGo) letGo();
    await this.#works.close();
    await this.desk.close({ evenIfUnsaved: true });
  }

  #apply(edit: Edit, mergeKey?: string): void {
    if (this.#closed) throw new CancelledError();
    this.#works.ledger.wish();
    try {
      this.desk.apply(edit, mergeKey);
    } catch (error) {
      throw refused(error);
    }
  }

  #onChange(change: DeskChange): void {
    this.#tell(changeEvent(this.desk, change, this.#asker));
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
    this.pitch.follow();
    const { session } = this.desk;
    for (const event of this.#views.takesAnew(session, this.#wants)) this.#tell(event);
    this.#tellParts();
    this.#works.ready.wake();
    this.#watchProgress();
  }

  /** One round of asking; true when the session was amended by it, so that another is due. */
  #ask(): boolean {
    const { findings, fault } = this.#wants.ask(this.#works.bench, this.desk.session);
    this.#faults.note(fault);
    if (findings === undefined) return false;
    return this.desk.amend(findings);
  }

  #tellFaults(): void {
    for (const { cleanFault, mendFault } of this.#wants.takes) {
      this.#faults.note(cleanFault);
      this.#faults.note(mendFault);
    }
    this.#faults.note(this.#wants.mix?.fault);
  }

  #tellParts(): void {
    if (this.#closed) return;
    const parts = this.#views.partsAnew({
      session: this.desk.session,
      blend: this.#wants.mix?.view ?? null,
      render: this.#works.renders.view(this.desk.session),
      madeGuide: this.guides.view(this.desk.session),
      madePicture: this.videos.view(this.desk.session),
      trials: this.trials.trials,
      intonation: this.pitch.view(this.desk.session),
      jobs: this.#works.jobs(),
      busy: this.#works.busySteps(),
    });
    if (parts !== undefined) this.#tell({ kind: 'parts', parts });
  }

  /** Something at work beside the ledger has moved. */
  #moved(): void {
    this.#tellParts();
    this.#watchProgress();
  }

  #watchProgress(): void {
    if (this.#progress !== undefined || !this.#works.isBusy()) return;
    this.#progress = setInterval(() => {
      this.#tellParts();
      if (this.#works.isBusy()) return;
      clearInterval(this.#progress);
      this.#progress = undefined;
    }, PROGRESS_MS);
  }
}
