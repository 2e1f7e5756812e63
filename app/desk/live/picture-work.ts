import { randomBytes } from 'node:crypto';
import { existsSync } from 'node:fs';
import { mkdir, rm, stat } from 'node:fs/promises';
import { basename, join } from 'node:path';
import type { SessionSpan } from '../../../core/picture/picture-design.ts';
import type { PicturePlan } from '../../../core/picture/picture-plan.ts';
import { rateText } from '../../../core/picture/picture-rate.ts';
import { planPicture } from '../../../core/picture/plan-picture.ts';
import { designOf, usualPicture } from '../../../core/session/picture-choice.ts';
import { levelForReport } from '../../../core/session/report.ts';
import type { Session } from '../../../core/session/schema.ts';
import { type SessionPictures, sessionPictures } from '../../../core/session/voice-pictures.ts';
import { CancelledError, PartsongError, throwIfCancelled } from '../../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { targetFault } from '../../media/whole-file.ts';
import { chooseEncoder, filtersOfFfmpeg } from '../../picture/abilities.ts';
import { type CodedSound, levelInSentence, measureSound, settleCodedSound } from '../../picture/mix-sound.ts';
import { renderPicture } from '../../picture/render-picture.ts';
import { writeStill } from '../../picture/stills.ts';
import type { CallInput, CallOutput } from '../../shell/contract/calls.ts';
import type { JobView, RenderView } from '../../shell/contract/desk-view.ts';
import type { MadePictureView } from '../../shell/contract/picture-view.ts';
import { Cache } from '../cache.ts';
import type { Desk } from '../desk.ts';
import { renderKey } from '../kept-render.ts';
import { fileNameOf } from '../names.ts';
import { refuseTargets } from '../source-guard.ts';
import { workFault } from '../work-fault.ts';
import { leftSec } from './job-views.ts';
import { mixFile } from './mix-file.ts';
import type { MixState } from './mix-work.ts';
import { drawnPeaks, type WaveOf } from './picture-peaks.ts';
import { pictureFacts } from './picture-state.ts';
import { PictureTones } from './picture-tones.ts';
import type { SideWork } from './side-works.ts';
import type { TakeProgress } from './take-state.ts';

/** What the making of videos needs of the open session. */
export interface PictureDesk {
  readonly desk: Desk;
  /** The mix when nothing is waited for any more. */
  mixReady(signal: AbortSignal): Promise<MixState>;
  takes(): readonly TakeProgress[];
  render(): RenderView | null;
  readonly wave: WaveOf;
  onMove(): void;
  onFault(fault: unknown): void;
}

type Choices = CallInput<'renderPicture'>;

/** A finished video as it is remembered over a restart. */
interface KeptPicture {
  readonly view: Omit<MadePictureView, 'current'>;
  /** Of the session it was made from. */
  readonly key: string;
}

interface Job {
  readonly id: string;
  readonly beganMs: number;
  readonly stop: AbortController;
  title: string;
  fraction: number;
  leftSec: number | null;
}

/** What each step takes of the whole, from how long they were seen to take. */
const MIXED = 0.12;
const CODED = 0.18;
const RENDERED = 0.97;
/** The cover is taken here, as a share of the video. */
const COVER_AT = 1 / 3;

/** The cache entry that remembers the newest video. */
const PICTURE_KEY = Cache.keyOf('newest video');

/** Renders the video of an open session: one at a time, and the newest that was finished. */
export class PictureWork implements SideWork {
  readonly #of: PictureDesk;
  readonly #tones = new PictureTones();
  readonly #closing = new AbortController();
  #kept: KeptPicture | undefined;
  #job: Job | undefined;
  #running: Promise<unknown> = Promise.resolve();
  #count = 0;

  constructor(of: PictureDesk) {
    this.#of = of;
    const kept = of.desk.cache.record<KeptPicture>(PICTURE_KEY);
    if (kept?.view.files.every(({ path }) => existsSync(path))) this.#kept = kept;
  }

  /** The newest video, as it stands to this session. */
  view(session: Session): MadePictureView | null {
    return this.#kept === undefined ? null : { ...this.#kept.view, current: this.#kept.key === pictureKey(session) };
  }

  jobs(): JobView[] {
    if (this.#job === undefined) return [];
    const { id, title, fraction, leftSec: told, beganMs } = this.#job;
    const left = told ?? leftSec(fraction, Date.now() - beganMs);
    return [{ id, kind: 'picture', title, fraction: Math.round(fraction * 1000) / 1000, leftSec: left, canStop: true }];
  }

  /** False when it is no video's id. */
  stop(jobId: string): boolean {
    if (this.#job?.id !== jobId) return false;
    this.#job.stop.abort();
    return true;
  }

  /** A file of the newest video by its name. */
  fileOf(name: string): string | undefined {
    return this.#kept?.view.files.find(({ path }) => basename(path) === name)?.path;
  }

  usedKeys(): string[] {
    return [PICTURE_KEY];
  }

  async close(): Promise<void> {
    this.#closing.abort();
    this.#job?.stop.abort();
    await this.#running;
  }

  /** Begins to make the video; gives its job's id. What can be known before any work is told at once. */
  async begin(choices: Choices): Promise<CallOutput<'renderPicture'>> {
    if (this.#job !== undefined) {
      throw new PartsongError('bad-option', 'A video is being made already.', 'Wait until it is finished, or stop it.');
    }
    const { session, folder } = this.#of.desk;
    if (session.voices.length === 0) {
      throw new PartsongError('bad-option', 'There is nothing to show yet.', 'Add the clips that you recorded.');
    }
    const job: Job = {
      id: `job-picture-${++this.#count}`,
      beganMs: Date.now(),
      stop: new AbortController(),
      title: 'Making the video ready',
      fraction: 0,
      leftSec: null,
    };
    this.#job = job;
    const target = choices.folder ?? join(folder, 'videos');
    try {
      await mkdir(target, { recursive: true }).catch((error: unknown) => {
        throw targetFault(error, target);
      });
    } catch (fault) {
      this.#job = undefined;
      throw fault;
    }
    this.#of.onMove();
    this.#running = this.#make(job, target, choices)
      .catch((fault: unknown) => {
        if (!(fault instanceof CancelledError)) this.#of.onFault(workFault(fault, target));
      })
      .finally(() => {
        this.#job = undefined;
        this.#of.onMove();
      });
    return { jobId: job.id };
  }

  async #make(job: Job, folder: string, choices: Choices): Promise<void> {
    const { desk } = this.#of;
    const { signal } = job.stop;
    const encoder = await chooseEncoder('x264');
    const mix = await this.#of.mixReady(signal);
    const { session } = desk;
    const scratch = join(desk.cache.folder, `video-${randomBytes(4).toString('hex')}`);
    try {
      const mixPath = await mixFile(this.#of, session, mix, `${scratch}.wav`, {
        signal,
        onBegin: () => {
          job.title = 'Mixing the sound of the video';
          this.#of.onMove();
        },
        onProgress: (fraction) => {
          job.fraction = MIXED * fraction;
        },
      });
      const name = fileNameOf(session.title) || 'video';
      const target = join(folder, `${name}.${choices.container}`);
      const cover = choices.cover ? join(folder, `${name}.jpg`) : undefined;
      const clips = this.#of.takes().map(({ file }) => file);
      await refuseTargets([target, ...(cover === undefined ? [] : [cover])], [mixPath, ...clips.filter(existsSync)]);
      let plan = await this.#plan(session, mix, mixPath, 0, signal);
      const coded = await settle(job, plan.plan, choices, mixPath, session.mix.ceilingDbtp, () => this.#of.onMove());
      if (coded !== undefined && coded.gainDb !== 0) {
        plan = await this.#plan(session, mix, mixPath, coded.gainDb, signal);
      }
      const output = { container: choices.container, encoder, speed: choices.speed, title: session.title } as const;
      const rendered = await renderPicture(plan.plan, target, {
        output,
        signal,
        onProgress: ({ picture, pictures, speed, leftSec: left }) => {
          job.title = `Rendering picture ${picture} of ${pictures}, ${speed.toFixed(1)} times playing speed`;
          job.fraction = CODED + (RENDERED - CODED) * (picture / pictures);
          job.leftSec = left === undefined ? null : Math.ceil(left);
        },
      });
      Object.assign(job, { title: 'Measuring the video', leftSec: null });
      this.#of.onMove();
      const measure = await measureSound(target, signal);
      if (cover !== undefined) await writeStill(target, plan.plan.lengthSec * COVER_AT, cover, signal);
      throwIfCancelled(signal);
      const { canvas, rate, pictures, lengthSec, tiles } = plan.plan;
      const files = [
        { path: target, what: 'video' as const, sizeBytes: (await stat(target)).size },
        ...(cover === undefined ? [] : [{ path: cover, what: 'cover' as const, sizeBytes: (await stat(cover)).size }]),
      ];
      const view: KeptPicture['view'] = {
        ...{ folder, files, canvas, rate: rateText(rate), pictures, lengthSec, tiles: tiles.length },
        worstOffsetMs: Math.round(Math.max(0, ...tiles.map((tile) => tile.worstOffsetSec)) * 10_000) / 10,
        integratedLufs: levelForReport(measure.integratedLufs),
        truePeakDbtp: levelForReport(measure.truePeakDbtp),
        loweredDb: coded === undefined ? 0 : -coded.gainDb,
        tookSec: rendered.tookSec,
        notes: [
          ...plan.notes,
          ...[coded && levelInSentence(coded, session.mix.ceilingDbtp)].filter((note) => note !== undefined),
          ...rendered.complaints.map((line) => `FFmpeg said: ${line}`),
        ],
      };
      this.#kept = { view, key: pictureKey(session) };
      desk.cache.keep(PICTURE_KEY, this.#kept);
    } finally {
      await rm(`${scratch}.wav`, { force: true });
    }
  }

  /** What matches exposure and white balance of the clips, by voice id; for the screen. */
  async tones(): Promise<CallOutput<'matchedTones'>> {
    const { signal } = this.#closing;
    const { voices } = await this.#voices(this.#of.desk.session, { fromSec: 0, toSec: 1 }, signal);
    const tones = await this.#tones.of(voices, signal);
    return { tones: Object.fromEntries(voices.map(({ voiceId }, index) => [voiceId, tones[index] ?? null])) };
  }

  async #voices(session: Session, span: SessionSpan, signal: AbortSignal): Promise<SessionPictures> {
    const clips = new Map<string, Awaited<ReturnType<typeof pictureFacts>>>();
    for (const { id, taken, look } of this.#of.takes()) {
      if (taken?.hasPicture !== true || look !== 'there') continue;
      clips.set(id, await pictureFacts(this.#of.desk.cache, taken, signal));
    }
    const peaks = drawnPeaks(session, span, this.#of.takes(), this.#of.wave);
    return sessionPictures(
      session,
      span,
      (takeId) => clips.get(takeId)?.clip ?? null,
      (voiceId) => peaks.get(voiceId) ?? [],
    );
  }

  async #plan(
    session: Session,
    mix: MixState,
    file: string,
    gainDb: number,
    signal: AbortSignal,
  ): Promise<{ plan: PicturePlan; notes: readonly string[] }> {
    const picture = session.picture ?? usualPicture();
    const lengthSec = mix.view.lengthFrames / SESSION_RATE_HZ;
    const wanted = picture.span ?? mix.view.span ?? { fromSec: 0, toSec: lengthSec };
    const span = { fromSec: Math.max(0, wanted.fromSec), toSec: Math.min(lengthSec, wanted.toSec) };
    const filters = await filtersOfFfmpeg();
    const { voices, unseen } = await this.#voices(session, span, signal);
    const design = designOf(
      picture,
      voices.map(({ voiceId }) => voiceId),
    );
    const sound = { file, rateHz: SESSION_RATE_HZ, startSec: 0, gainDb };
    const tones = picture.matched ? await this.#tones.of(voices, signal) : [];
    const seen = voices.map((voice, index) => ({ ...voice, tone: tones[index] ?? null }));
    const plan = planPicture({ design, voices: seen, span, sound, filters });
    return { plan, notes: [...unseen.map(({ name, why }) => `${name} is not seen: ${why}.`), ...plan.notes] };
  }
}

async function settle(
  job: Job,
  plan: PicturePlan,
  { container }: Choices,
  mixPath: string,
  ceilingDbtp: number,
  onMove: () => void,
): Promise<CodedSound | undefined> {
  if (container !== 'mp4' || plan.sound === null) return undefined;
  job.title = 'Coding the sound of the video';
  onMove();
  return settleCodedSound(mixPath, {
    ...plan.sound,
    ceilingDbtp,
    signal: job.stop.signal,
    onProgress: (fraction) => {
      job.fraction = Math.max(job.fraction, MIXED + (CODED - MIXED) * fraction);
    },
  });
}

/** Names everything in a session that shapes its video. */
function pictureKey(session: Session): string {
  const looks = session.voices.map(({ id, name, colour, role }) => [id, name, colour, role]);
  return Cache.keyOf('picture', renderKey(session), looks, session.picture);
}
