import { useBench } from '../desk/bench-store.ts';
import { tell, theBridge, useDesk } from '../desk/desk-store.ts';
import { chooseDevice, keepDevices, onDevicesChange } from './devices.ts';
import type { FromSound, TakeOver } from './messages.ts';
import { MixNow } from './mix-now.ts';
import type { MixPlan } from './mix-plan.ts';
import { type PlaybackState, rememberCautionRead, usePlayback } from './playback-state.ts';
import type { PlayedLevels, Player } from './player.ts';
import { playerFaults } from './player-faults.ts';
import { SoundOutput } from './sound-output.ts';
import { Spaced } from './spaced.ts';
import { StreamLine } from './stream-line.ts';
import { Telling } from './telling.ts';

/** Changes that need new sound are gathered for so long. */
const GATHER_MS = 60;
/** After so long without playing the sound device is let go. */
const IDLE_MS = 30_000;
/** Places asked for in quick succession, as by dragging, are fetched no more often than this. */
const SEEK_MS = 150;
/** A loop that is set while it plays begins at its start when less than this is left of it: 1.5 s. */
const LOOP_AHEAD_FRAMES = 72_000;

/** The player of the page; see Player. Makes its output at the first play, as browsers want it. */
export class PagePlayer implements Player {
  readonly #line = new StreamLine();
  readonly #seeks = new Spaced<number>(SEEK_MS, (frame) => this.#goTo(frame));
  readonly #listeners = new Set<(levels: PlayedLevels) => void>();
  readonly #mix = new MixNow();
  readonly #telling = new Telling(() => this.positionFrame());
  #output: SoundOutput | undefined;
  #opening: Promise<SoundOutput | undefined> | undefined;
  /** Where it stands while nothing plays. */
  #standsAt = 0;
  #settings = '';
  #idleTimer: ReturnType<typeof setTimeout> | undefined;
  #gather: ReturnType<typeof setTimeout> | undefined;

  constructor() {
    useDesk.subscribe((now, before) => {
      if (now.view === before.view) return;
      if (now.view === null || now.view.folder !== before.view?.folder) this.#leaveSession();
      this.#mix.noteLaid(before.view?.takes, now.view?.takes);
      this.#refresh();
    });
    useBench.subscribe((now, before) => {
      if (now.step !== before.step || now.takeId !== before.takeId) this.#refresh();
    });
    usePlayback.subscribe((now, before) => {
      if (now.alone !== before.alone || now.audition !== before.audition || now.loop !== before.loop) this.#refresh();
    });
  }

  async play(): Promise<void> {
    const output = await this.#open();
    if (output === undefined) return;
    const mix = this.#mix.plan();
    if (mix === undefined || mix.voices.length === 0) {
      tell(playerFaults.nothingToPlay);
      return;
    }
    clearTimeout(this.#idleTimer);
    if (!(await output.resume())) {
      tell(playerFaults.heldBack);
      return;
    }
    if (this.#standsAt >= mix.endFrame && usePlayback.getState().loop === null) this.#standsAt = 0;
    usePlayback.setState({ playing: true });
    if (this.#line.newestMix?.key !== mix.key) this.#begin(this.#standsAt, 'cut', mix);
    output.post({ kind: 'run', running: true });
    this.#telling.begin();
  }

  pause(): void {
    if (!usePlayback.getState().playing) return;
    this.#standsAt = Math.round(this.positionFrame());
    // A place that was asked for and not begun yet: nothing sent so far leads there.
    if (this.#seeks.waiting !== undefined) this.#line.forget();
    this.#seeks.drop();
    this.#stop();
  }

  seek(frame: number): void {
    const end = this.#mix.plan()?.endFrame ?? 0;
    const target = Math.round(Math.max(0, Math.min(frame, end)));
    this.#standsAt = target;
    usePlayback.setState({ positionFrame: target });
    if (!usePlayback.getState().playing) {
      this.#line.forget();
      return;
    }
    this.#seeks.ask(target);
  }

  setLoop(loop: PlaybackState['loop']): void {
    usePlayback.setState({
      loop: loop && { fromFrame: Math.max(0, Math.round(loop.fromFrame)), toFrame: Math.round(loop.toFrame) },
    });
  }

  setVolume(volumeDb: number): void {
    const held = Math.max(-60, Math.min(0, volumeDb));
    usePlayback.setState({ volumeDb: held });
    this.#output?.setVolume(held);
  }

  setAlone(voiceIds: readonly string[]): void {
    usePlayback.setState({ alone: voiceIds });
  }

  setAudition(audition: PlaybackState['audition']): void {
    usePlayback.setState({ audition });
  }

  setDevice(deviceId: string): Promise<void> {
    return chooseDevice(deviceId, this.#output, this);
  }

  readCaution(): void {
    rememberCautionRead();
    usePlayback.setState({ cautionRead: true });
  }

  positionFrame(): number {
    if (this.#output === undefined || !usePlayback.getState().playing) return this.#standsAt;
    return this.#seeks.waiting ?? this.#line.heardAt(this.#output.heardFrame()) ?? this.#standsAt;
  }

  heard(target: Float32Array<ArrayBuffer>): boolean {
    if (this.#output === undefined || !usePlayback.getState().playing) return false;
    this.#output.heard(target);
    return true;
  }

  onLevels(listener: (levels: PlayedLevels) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** From a change to the ear, s, as far as the browser knows; null before the first play. */
  latencySec(): number | null {
    return this.#output?.latencySec ?? null;
  }

  refreshDevices(): Promise<void> {
    return keepDevices(this);
  }

  async #open(): Promise<SoundOutput | undefined> {
    this.#opening ??= this.#openOnce();
    const output = await this.#opening;
    if (output === undefined) this.#opening = undefined;
    return output;
  }

  async #openOnce(): Promise<SoundOutput | undefined> {
    try {
      const output = await SoundOutput.open(usePlayback.getState().volumeDb, {
        onMessage: (message) => this.#take(message),
        onStopped: () => this.#stopTaken(),
        onBroken: () => this.#breakDown(),
      });
      this.#output = output;
      const { deviceId } = usePlayback.getState();
      if (deviceId !== '') await output.setDevice(deviceId);
      onDevicesChange(() => void this.refreshDevices());
      await this.refreshDevices();
      return output;
    } catch (error) {
      const { noSound } = playerFaults;
      const why = error instanceof Error ? error.message : String(error);
      tell({ ...noSound, message: `${noSound.message} (${why})` });
      return undefined;
    }
  }

  /** Takes up whatever changed: at once what needs no new sound, soon what does. */
  #refresh(): void {
    const output = this.#output;
    const mix = this.#mix.plan();
    if (output === undefined || mix === undefined) return;
    const settings = JSON.stringify(mix.settings);
    if (settings !== this.#settings) {
      this.#settings = settings;
      output.post({ kind: 'settings', settings: mix.settings });
    }
    if (!usePlayback.getState().playing || this.#line.newestMix?.key === mix.key) return;
    this.#gather ??= setTimeout(() => {
      this.#gather = undefined;
      this.#goOn();
    }, GATHER_MS);
  }

  #goTo(frame: number): void {
    const mix = this.#mix.plan();
    if (mix !== undefined && usePlayback.getState().playing) this.#begin(frame, 'cut', mix);
  }

  /** Goes on with new sound where the old one is. */
  #goOn(): void {
    const mix = this.#mix.plan();
    if (mix === undefined || !usePlayback.getState().playing || this.#line.newestMix?.key === mix.key) return;
    const { loop } = usePlayback.getState();
    const now = Math.round(this.positionFrame());
    // A new loop must not be over before its sound is there.
    const least = loop === this.#line.newestLoop ? 0 : LOOP_AHEAD_FRAMES;
    const isOutside = loop !== null && (now + least >= loop.toFrame || now < loop.fromFrame);
    if (isOutside) this.#begin(loop.fromFrame, 'cut', mix);
    else this.#begin(now, 'join', mix);
  }

  #begin(startFrame: number, takeOver: TakeOver, mix: MixPlan): void {
    const output = this.#output;
    if (output === undefined) return;
    const { loop } = usePlayback.getState();
    this.#settings = JSON.stringify(mix.settings);
    this.#line.begin(
      { startFrame, loop, endFrame: mix.endFrame },
      takeOver,
      mix,
      {
        bridge: theBridge(),
        post: (sent, transfer) => output.post(sent, transfer),
        onTrouble: () => tell(playerFaults.unreadable),
      },
      output.heardFrame(),
    );
  }

  #take(message: FromSound): void {
    switch (message.kind) {
      case 'anchor': {
        const place = this.#line.settle(message);
        // After a pause the sound fades out a little further on; it stands where it will go on.
        if (place !== undefined && !message.moving && !usePlayback.getState().playing) this.#stand(place);
        return;
      }
      case 'used':
        this.#line.use(message.epoch, message.streamFrame);
        return;
      case 'levels': {
        const voices = this.#line.voicesOf(message.epoch);
        const voicePeaks = Object.fromEntries(voices.map((voice, n) => [voice.id, message.voicePeaks[n] ?? 0]));
        const { momentaryLufs, shortTermLufs, limiterDb } = message;
        for (const listener of this.#listeners) listener({ momentaryLufs, shortTermLufs, voicePeaks, limiterDb });
        return;
      }
      case 'starved':
        this.#telling.starved(message.starved);
        return;
      case 'ended':
        if (message.epoch === this.#line.newestEpoch) this.#end();
    }
  }

  #stand(frame: number): void {
    this.#standsAt = Math.round(frame);
    usePlayback.setState({ positionFrame: this.#standsAt });
  }

  #stop(): void {
    this.#output?.post({ kind: 'run', running: false });
    this.#telling.end();
    clearTimeout(this.#idleTimer);
    this.#idleTimer = setTimeout(() => void this.#output?.rest(), IDLE_MS);
    usePlayback.setState({ playing: false, positionFrame: this.#standsAt });
  }

  /** The last stream ran to its end. */
  #end(): void {
    this.#standsAt = this.#line.endFrame;
    this.#line.forget();
    this.#stop();
  }

  #leaveSession(): void {
    this.#standsAt = 0;
    this.#stop();
    this.#line.forget();
    usePlayback.setState({ alone: [], audition: null, loop: null });
  }

  #stopTaken(): void {
    if (!usePlayback.getState().playing) return;
    this.pause();
    tell(playerFaults.taken);
  }

  #breakDown(): void {
    this.pause();
    this.#line.forget();
    const output = this.#output;
    this.#output = undefined;
    this.#opening = undefined;
    tell(playerFaults.broken);
    output?.close().catch(() => {});
  }
}
