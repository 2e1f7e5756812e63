import { heardTakes, soundingPassages } from '../../../core/session/passages.ts';
import type { Session } from '../../../core/session/schema.ts';
import { clockOf } from '../../../core/signal/clock.ts';
import { CancelledError, PartsongError, throwIfCancelled } from '../../../core/signal/fault.ts';
import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import type { FaultView, JobView } from '../../shell/contract/desk-view.ts';
import type { IntonationChoice, IntonationView, PitchReportView } from '../../shell/contract/intonation-view.ts';
import { Cache } from '../cache.ts';
import type { Desk } from '../desk.ts';
import { keptGuideFile } from '../guide-file.ts';
import { keptTuning } from '../kept-tuning.ts';
import type { KeyedSound } from '../measure-taken.ts';
import { type CurvePlaces, curvesPath, keepCurves } from '../pitch-curves.ts';
import { mendsOf, trackedVoices, type VoiceAtHand, voicesAtHand } from '../session-pitch.ts';
import { STEP_VERSION } from '../steps.ts';
import { pitchKey } from '../track-taken.ts';
import { workFault } from '../work-fault.ts';
import { leftSec } from './job-views.ts';
import type { SideWork } from './side-works.ts';
import type { TakeProgress } from './take-state.ts';

/** What listening to the pitch needs of the open session. */
export interface IntonationDesk {
  readonly desk: Desk;
  takes(): readonly TakeProgress[];
  /** The job, or the report, has changed. */
  onMove(): void;
  inWords(error: unknown): FaultView;
}

interface Job {
  readonly id: string;
  readonly voices: number;
  readonly beganMs: number;
  readonly stop: AbortController;
  /** Begun by itself; the user's own wish goes before it. */
  readonly isQuiet: boolean;
  fraction: number;
}

/** The newest report; `key` names all that shaped it. */
interface Heard {
  readonly key: string;
  /** The same without what is mended; absent where an older Partsong listened. */
  readonly plainKey?: string;
  readonly report: PitchReportView;
  /** Absent where an older Partsong listened. */
  readonly curves?: CurvePlaces;
}

/** The cache entry that keeps the newest report. */
export const INTONATION_KEY = Cache.keyOf('intonation', STEP_VERSION.pitch, STEP_VERSION.intonation);

const CALM_MS = 120;

/** Listens to the pitch of an open session when it is asked to; what it heard is kept over a restart too. */
export class IntonationWork implements SideWork {
  readonly #of: IntonationDesk;
  #job: Job | undefined;
  #running: Promise<void> = Promise.resolve();
  #heard: Heard | undefined;
  #fault: FaultView | null = null;
  /** The entry that keeps what was found last. */
  #tuningKey: string | undefined;
  #count = 0;
  #closed = false;
  #shown: { readonly view: IntonationView | null } = { view: null };

  constructor(of: IntonationDesk) {
    this.#of = of;
    this.#heard = of.desk.cache.record<Heard>(INTONATION_KEY);
  }

  /** What the screens show; the same object as long as nothing of it has changed. */
  view(session: Session): IntonationView | null {
    const view = this.#viewNow(session);
    const before = this.#shown.view;
    const isSame = before?.state === view?.state && before?.fault === view?.fault && before?.report === view?.report;
    if (!isSame) this.#shown = { view };
    return this.#shown.view;
  }

  jobs(): JobView[] {
    if (this.#job === undefined) return [];
    const { id, voices, fraction, beganMs } = this.#job;
    return [
      {
        id,
        kind: 'pitch',
        title: `Listening to the pitch of ${voices === 1 ? 'a voice' : `${voices} voices`}`,
        fraction: Math.round(fraction * 1000) / 1000,
        leftSec: leftSec(fraction, Date.now() - beganMs),
        canStop: true,
      },
    ];
  }

  /** Stops the job with this id; false when it is none of these. */
  stop(jobId: string): boolean {
    if (this.#job?.id !== jobId) return false;
    this.#job.stop.abort();
    return true;
  }

  /** Begins to listen. Throws PartsongError 'bad-option' while it listens already, and where there is nothing to listen to. */
  listen(choice: CallInput<'listenToPitch'>): CallOutput<'listenToPitch'> {
    const { session } = this.#of.desk;
    if (this.#job?.isQuiet === false) {
      throw new PartsongError(
        'bad-option',
        'The pitch is being listened to already.',
        'Wait for it, or stop it first.',
      );
    }
    const voices = this.#voicesAtHand(session);
    if (voices.every(({ takes }) => takes.length === 0)) {
      throw new PartsongError(
        'bad-option',
        'There is no take yet whose pitch could be listened to.',
        'Add the clips that you recorded, and wait until they have been read.',
      );
    }
    this.#fault = null;
    return { jobId: this.#begin(choice, voices.length, false) };
  }

  /**
   * Where nothing has changed but what is mended, the report follows by itself: what was tracked stays, and mending is
   * reckoned with. To be called whenever the session has changed.
   */
  follow(): void {
    const { session } = this.#of.desk;
    if (this.#heard === undefined || this.#job !== undefined || this.#closed || !this.#isToFollow(session)) return;
    this.#begin(this.#heard.report.choice, session.voices.length, true);
  }

  /** Whether what was heard is out of date by what is mended alone, and all that was tracked is there. */
  #isToFollow(session: Session): boolean {
    const heard = this.#heard;
    if (heard === undefined || this.#fault !== null) return false;
    const { choice } = heard.report;
    if (heard.key === keyOf(session, choice) || heard.plainKey !== keyOf(session, choice, false)) return false;
    const isTracked = ({ sound }: { readonly sound: KeyedSound }): boolean =>
      this.#of.desk.cache.record(pitchKey(sound.key)) !== undefined;
    return this.#voicesAtHand(session).every(({ takes, lost }) => lost.length === 0 && takes.every(isTracked));
  }

  #begin(choice: IntonationChoice, voices: number, isQuiet: boolean): string {
    const id = `job-pitch-${++this.#count}`;
    const job: Job = { id, voices, beganMs: Date.now(), stop: new AbortController(), isQuiet, fraction: 0 };
    this.#job?.stop.abort();
    this.#job = job;
    this.#running = this.#running.then(() => this.#run(job, choice));
    this.#of.onMove();
    return id;
  }

  /** The file and the bytes in it of a voice's pitch curve; undefined where there is none. */
  curveOf(voiceId: string): { readonly path: string; readonly start: number; readonly bytes: number } | undefined {
    const curves = this.#heard?.curves ?? {};
    const place = Object.hasOwn(curves, voiceId) ? curves[voiceId] : undefined;
    return place === undefined ? undefined : { path: curvesPath(this.#of.desk.cache, INTONATION_KEY), ...place };
  }

  /** Keys of the cache entries that are of use to the takes as they are now. */
  usedKeys(): string[] {
    const takes = this.#of.takes().flatMap(({ taken }) => (taken === undefined ? [] : [pitchKey(taken.key)]));
    return [INTONATION_KEY, ...(this.#tuningKey === undefined ? [] : [this.#tuningKey]), ...takes];
  }

  async close(): Promise<void> {
    this.#closed = true;
    this.#job?.stop.abort();
    await this.#running;
  }

  #viewNow(session: Session): IntonationView | null {
    const report = this.#heard?.report ?? null;
    const fault = this.#fault;
    if (this.#job !== undefined) return { state: 'working', fault: null, report };
    if (fault !== null) return { state: 'faulty', fault, report };
    if (this.#heard === undefined) return null;
    const isCurrent = this.#heard.key === keyOf(session, this.#heard.report.choice);
    const older = this.#isToFollow(session) ? 'working' : 'stale';
    return { state: isCurrent ? 'current' : older, fault: null, report };
  }

  async #run(job: Job, choice: IntonationChoice): Promise<void> {
    try {
      // A slider on its way asks for much; where it comes to rest is worth the work.
      if (job.isQuiet) await new Promise((done) => setTimeout(done, CALM_MS));
      throwIfCancelled(job.stop.signal);
      const { session } = this.#of.desk;
      const { report, curves } = await this.#listen(job, session, this.#voicesAtHand(session), choice);
      this.#heard = { key: keyOf(session, choice), plainKey: keyOf(session, choice, false), report, curves };
      if (!this.#closed) this.#of.desk.cache.keep(INTONATION_KEY, this.#heard);
    } catch (error) {
      const isStopped = error instanceof CancelledError || job.stop.signal.aborted;
      if (!isStopped) this.#fault = this.#of.inWords(workFault(error, this.#of.desk.folder));
    }
    if (this.#job !== job) return;
    this.#job = undefined;
    if (this.#closed) return;
    this.follow();
    this.#of.onMove();
  }

  async #listen(
    job: Job,
    session: Session,
    voices: readonly VoiceAtHand[],
    choice: IntonationChoice,
  ): Promise<{ readonly report: PitchReportView; readonly curves: CurvePlaces }> {
    const { cache, pool, folder } = this.#of.desk;
    const { signal } = job.stop;
    const file = session.guide === null ? undefined : await keptGuideFile(folder, session.guide.clip.fingerprint);
    const onProgress = (fraction: number): void => {
      job.fraction = fraction;
    };
    const heard = await trackedVoices(voices, cache, pool, { signal, onProgress });
    const against = {
      score: file?.score,
      plan: file?.plan,
      guideReferenceHz: file?.settings.referenceHz ?? null,
      ...choice,
    };
    const { key, value: findings } = await keptTuning(heard, against, cache, pool, { signal });
    this.#tuningKey = key;
    const lost = voices.flatMap((one) =>
      one.lost.map((take) => `${take.name} could not be read, so it was not heard.`),
    );
    const report = {
      ...findings,
      choice,
      mends: mendsOf(voices),
      guideReferenceHz: file?.settings.referenceHz ?? null,
      notes: [...lost, ...findings.notes],
    };
    const notesOf = new Map(findings.intonation?.voices.map(({ id, notes }) => [id, notes]));
    const curves = keepCurves(
      cache,
      INTONATION_KEY,
      heard.map(({ id, row, place }) => ({ id, row, place, notes: notesOf.get(id) ?? [] })),
    );
    return { report, curves };
  }

  #voicesAtHand(session: Session): VoiceAtHand[] {
    const sounds = new Map(this.#of.takes().map(({ id, taken }) => [id, taken]));
    return voicesAtHand(session, (takeId) => sounds.get(takeId));
  }
}

/** Everything of a session that shapes the report. withMend: what is mended, too. */
function keyOf(session: Session, choice: IntonationChoice, withMend = true): string {
  const voices = session.voices.map((voice) => [
    voice.id,
    soundingPassages(voice),
    heardTakes(session, voice).map(({ id, clip, part, mend, placement }) => [
      id,
      clip.fingerprint,
      part,
      withMend ? mend : null,
      placement === null ? null : [clockOf(placement), placement.uncertaintySec],
    ]),
  ]);
  return Cache.keyOf('intonation', STEP_VERSION.pitch, choice, session.guide?.clip.fingerprint ?? null, voices);
}
