import { existsSync } from 'node:fs';
import { copyFile, mkdir, readdir } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { PartsongError } from '../../../core/signal/fault.ts';
import { Desk } from '../../desk/desk.ts';
import { LiveDesk } from '../../desk/live/live-desk.ts';
import { scoreView } from '../../desk/live/score-view.ts';
import { fileNameOf } from '../../desk/names.ts';
import { Recents } from '../../desk/recents.ts';
import { searchFfmpegOnce } from '../../media/ffmpeg.ts';
import { targetFault } from '../../media/whole-file.ts';
import { WorkPool } from '../../work/pool.ts';
import type { DoorAnswer } from '../contract/bridge.ts';
import { type CallInput, type CallName, type CallOutput, callInputs } from '../contract/calls.ts';
import type { DeskView, FaultView, StartView } from '../contract/desk-view.ts';
import type { DeskEvent } from '../contract/events.ts';
import { faultViewOf } from '../door-fault.ts';
import type { DeskDoorHost, DoorMedia } from '../door-host.ts';
import { deskMedia } from './desk-media.ts';
import { SpectrogramStore } from './spectrogram-store.ts';

/** Native dialogs, where the door has them. */
export interface Dialogs {
  pickFiles(title: string, many: boolean): Promise<readonly string[] | null>;
  pickFolder(title: string): Promise<string | null>;
  reveal(path: string): Promise<void>;
}

export interface DeskHostOptions {
  readonly door: 'window' | 'browser';
  /** Of Partsong. */
  readonly version: string;
  /** Where new sessions go. */
  readonly homeFolder: string;
  /** Where the list of recent sessions is kept. */
  readonly configFolder: string;
  /** The sample's clips; found by itself when absent. */
  readonly sampleFolder?: string;
  /** Workers for a session. */
  readonly makePool?: () => WorkPool;
  readonly dialogs?: Dialogs;
}

type Answers = { readonly [Name in CallName]: (input: CallInput<Name>) => Promise<CallOutput<Name>> };

const SAMPLE_TITLE = 'Evening canon';

/** The desk behind both doors: one session at most is open; every call, event and media route of the contract. */
export class DeskHost implements DeskDoorHost {
  readonly #options: DeskHostOptions;
  readonly #recents: Recents;
  readonly #listeners = new Set<(event: DeskEvent) => void>();
  readonly #spectrograms = new SpectrogramStore();
  #live: LiveDesk | undefined;
  /** Opening and closing go one after the other. */
  #turn: Promise<unknown> = Promise.resolve();
  #closed = false;

  constructor(options: DeskHostOptions) {
    this.#options = options;
    this.#recents = new Recents(options.configFolder);
  }

  async call(name: CallName, input: unknown): Promise<DoorAnswer> {
    try {
      const answer = this.#answers[name] as (input: unknown) => Promise<unknown>;
      return { ok: true, value: await answer(callInputs[name].parse(input)) };
    } catch (error) {
      return { ok: false, fault: faultView(error) };
    }
  }

  onEvent(listener: (event: DeskEvent) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  async media(route: string): Promise<DoorMedia | null> {
    return this.#live === undefined ? null : deskMedia(this.#live, this.#spectrograms, route);
  }

  /** Tells every page of something that went wrong outside of their calls. */
  tell(fault: FaultView): void {
    this.#tell({ kind: 'fault', fault });
  }

  view(): DeskView | null {
    return this.#live?.view() ?? null;
  }

  /** The open session; undefined when there is none. For tests and measurements. */
  get live(): LiveDesk | undefined {
    return this.#live;
  }

  close(): Promise<void> {
    this.#closed = true;
    return this.#inTurn(() => this.#letGo(true));
  }

  readonly #answers: Answers = {
    begin: () => this.#start(),
    newSession: ({ title, folder }) => this.#inTurn(() => this.#new(title, folder)),
    openSession: ({ folder }) => this.#inTurn(() => this.#openAt(folder)),
    openSample: () => this.#inTurn(() => this.#sample()),
    closeSession: () =>
      this.#inTurn(async () => {
        await this.#letGo(false);
        return null;
      }),
    forgetRecent: async ({ folder }) => {
      await this.#recents.forget(folder);
      return null;
    },
    edit: async (input) => this.#session.edit(input),
    undo: async () => this.#session.undo(),
    redo: async () => this.#session.redo(),
    addClips: async (input) => this.#session.clips.addClips(input),
    setGuide: async (input) => this.#session.clips.setGuide(input),
    lineUpAgain: async (input) => this.#session.lineUpAgain(input),
    relink: async (input) => this.#session.clips.relink(input),
    searchMissing: async (input) => this.#session.clips.searchMissing(input),
    joinPoints: async (input) => this.#session.joinPoints(input),
    listenToPitch: async (input) => this.#session.pitch.listen(input),
    listenToTakes: async () => this.#session.listenToTakes(),
    stopJob: async (input) => this.#session.stopJob(input),
    render: async (input) => this.#session.render(input),
    readScore: async ({ file }) => scoreView(file),
    makeGuide: async (input) => this.#session.guides.make(input),
    tryGuide: async (input) => this.#session.guides.tryOut(input),
    checkClip: async (input) => this.#session.trials.checkClip(input),
    checkTake: async (input) => this.#session.trials.checkTake(input),
    forgetTrial: async (input) => this.#session.trials.forget(input),
    preparePictures: async (input) => this.#session.preparePictures(input),
    matchedTones: async () => this.#session.videos.tones(),
    gatherClips: async (input) => this.#session.gathering.gather(input),
    findSolos: async () => this.#session.findSolos(),
    renderPicture: async (input) => this.#session.videos.begin(input),
    pickFiles: async ({ title, many }) => (await this.#options.dialogs?.pickFiles(title, many)) ?? null,
    pickFolder: async ({ title }) => (await this.#options.dialogs?.pickFolder(title)) ?? null,
    reveal: async ({ path }) => {
      if (!this.#session.sounds.isOwn(path)) {
        throw new PartsongError('bad-option', `${path} is no file of this session.`, 'Open its folder by hand.', path);
      }
      await this.#options.dialogs?.reveal(path);
      return null;
    },
  };

  get #session(): LiveDesk {
    if (this.#live !== undefined) return this.#live;
    throw new PartsongError('bad-option', 'No session is open.', 'Open a session, or begin a new one.');
  }

  get #by(): string {
    return this.#options.door === 'window' ? 'the window' : 'the browser';
  }

  #pool(): WorkPool {
    return this.#options.makePool?.() ?? new WorkPool();
  }

  #tell(event: DeskEvent): void {
    for (const listener of this.#listeners) listener(event);
  }

  #inTurn<Value>(work: () => Promise<Value>): Promise<Value> {
    const turn = this.#turn.then(work);
    this.#turn = turn.catch(() => undefined);
    return turn;
  }

  async #start(): Promise<StartView> {
    const { door, version, homeFolder } = this.#options;
    let ffmpeg: string | null = null;
    let ffmpegFault: FaultView | null = null;
    try {
      const { found } = await searchFfmpegOnce();
      if (found !== undefined) ffmpeg = `FFmpeg ${found.version} (${found.origin})`;
      else ffmpegFault = noFfmpeg();
    } catch (error) {
      ffmpegFault = faultView(error);
    }
    const { platform } = process;
    return {
      door,
      version,
      platform: platform === 'linux' || platform === 'darwin' || platform === 'win32' ? platform : 'other',
      recents: await this.#recents.list(),
      ffmpeg,
      ffmpegFault,
      home: homeFolder,
      desk: this.view(),
    };
  }

  async #new(title: string, folder: string | null): Promise<DeskView> {
    const name = title.trim() || (folder === null ? 'New session' : basename(folder));
    const place = folder ?? (await this.#freeFolder(name));
    return this.#open(() => Desk.begin(place, name, { pool: this.#pool(), by: this.#by }));
  }

  async #openAt(folder: string): Promise<DeskView> {
    const place = basename(folder) === 'session.json' ? dirname(folder) : folder;
    if (this.#live !== undefined && resolve(place) === this.#live.desk.folder) return this.#live.view();
    return this.#open(() => Desk.open(folder, { pool: this.#pool(), by: this.#by }));
  }

  /** The session before is closed only when the next one could be opened, so that a fault leaves all as it was. */
  async #open(open: () => Promise<Desk>): Promise<DeskView> {
    if (this.#closed) throw new PartsongError('bad-option', 'The desk is closing.', 'Start Partsong again.');
    const desk = await open();
    try {
      await this.#letGo(false);
    } catch (error) {
      await desk.close({ evenIfUnsaved: true });
      throw error;
    }
    await this.#recents.remember(desk);
    this.#live = new LiveDesk(desk, (event) => this.#tell(event), faultView);
    const view = this.#live.view();
    this.#tell({ kind: 'opened', view });
    return view;
  }

  async #sample(): Promise<DeskView> {
    const from = this.#options.sampleFolder ?? sampleFolder();
    const folder = await this.#freeFolder(SAMPLE_TITLE);
    await this.#open(() => Desk.begin(folder, SAMPLE_TITLE, { pool: this.#pool(), by: this.#by }));
    const clips = join(folder, 'clips');
    try {
      await mkdir(clips);
      const takes = (await readdir(join(from, 'takes'))).sort();
      for (const name of takes) await copyFile(join(from, 'takes', name), join(clips, name));
      const guideFiles = (await readdir(from)).filter((name) => name.startsWith('guide.'));
      for (const name of guideFiles) await copyFile(join(from, name), join(clips, name));
      const guide = guideFiles.find((name) => !name.endsWith('.json'));
      if (guide !== undefined) {
        await this.#session.clips.setGuide({ file: join(clips, guide) });
      }
      await this.#session.clips.addClips({ files: takes.map((name) => join(clips, name)), voiceId: null });
    } catch (error) {
      throw targetFault(error, clips);
    }
    return this.#session.view();
  }

  async #letGo(evenIfUnsaved: boolean): Promise<void> {
    const live = this.#live;
    if (live === undefined) return;
    await this.#recents.remember(live.desk);
    await live.close({ evenIfUnsaved });
    this.#live = undefined;
    this.#spectrograms.clear();
    this.#tell({ kind: 'closed' });
  }

  /** A folder in the home of sessions that is not there yet. */
  async #freeFolder(title: string): Promise<string> {
    const name = fileNameOf(title).slice(0, 80).trim();
    const bare = name === '' ? 'Session' : name;
    let folder = join(this.#options.homeFolder, bare);
    for (let n = 2; existsSync(folder); n++) folder = join(this.#options.homeFolder, `${bare} ${n}`);
    return folder;
  }
}

/** Any error as a fault for people. */
export function faultView(error: unknown): FaultView {
  return faultViewOf(error);
}

function noFfmpeg(): FaultView {
  return {
    code: 'ffmpeg-missing',
    message: 'No FFmpeg was found that runs on this computer; Partsong needs it to read clips.',
    nextStep: 'Install FFmpeg, or set PARTSONG_FFMPEG to its path, then start Partsong again.',
    file: null,
  };
}

/** Beside the bundle, or at the top of the sources. */
function sampleFolder(): string {
  for (const up of ['../samples/evening-canon', '../../../samples/evening-canon', '../../samples/evening-canon']) {
    const folder = fileURLToPath(new URL(up, import.meta.url));
    if (existsSync(folder)) return folder;
  }
  throw new PartsongError('file-missing', 'The sample session is not there.', 'Install Partsong anew.');
}
