import { resolve } from 'node:path';
import { type Clock, clockOf } from '../../../core/signal/clock.ts';
import type { Listen, RenderView } from '../../shell/contract/desk-view.ts';
import type { LaidSound } from '../../work/laid-sound.ts';
import { soundOfTake } from '../composed-voice.ts';
import { type Desk, keptPath } from '../desk.ts';
import type { KeyedSound } from '../measure-taken.ts';
import { GUIDE_ID } from '../missing-clips.ts';
import { laidSoundOf, type RenderPart } from '../render-mix.ts';
import type { TakenIn } from '../take-in.ts';
import type { PictureProgress } from './picture-state.ts';
import type { ClipProgress, TakeProgress } from './take-state.ts';

/** Before the id of a voice, where ids of takes are usual. */
const VOICE_MARK = 'voice:';

/** How far the clips of a session are. */
export interface SessionProgress {
  readonly takes: readonly TakeProgress[];
  readonly guide: ClipProgress | undefined;
  /** By take id. */
  readonly pictures: ReadonlyMap<string, PictureProgress>;
}

/** What mending begins with; undefined until it is there. */
function cleanedSound({ clean, cleaned }: TakeProgress, taken: TakenIn): KeyedSound | undefined {
  const isOver = clean === 'off' || clean === 'ready' || clean === 'fault';
  return isOver ? soundOfTake({ taken, cleaned }) : undefined;
}

/** Where the sounds, waveforms and files of an open session lie, by the ids of its takes ('guide' for the guide). */
export class SessionSounds {
  readonly #desk: Desk;
  readonly #progress: () => SessionProgress;
  readonly #render: () => RenderView | null;
  readonly #part: (voiceId: string) => RenderPart | undefined;

  /** part: what a voice goes into the mix with. */
  constructor(
    desk: Desk,
    progress: () => SessionProgress,
    render: () => RenderView | null,
    part: (voiceId: string) => RenderPart | undefined,
  ) {
    this.#desk = desk;
    this.#progress = progress;
    this.#render = render;
    this.#part = part;
  }

  /** Where a take's sound lies in its own time, so far as it is there; `id` may be 'guide'. */
  soundOf(
    id: string,
    listen: 'before' | 'cleaned' | 'after',
  ): { soundPath: string; rateHz: number; lengthFrames: number } | undefined {
    const clip = this.#clip(id);
    const { taken } = clip ?? {};
    if (clip === undefined || taken === undefined) return undefined;
    const { rateHz, lengthFrames } = taken;
    if (listen === 'before' || id === GUIDE_ID) return { soundPath: taken.soundPath, rateHz, lengthFrames };
    const sound = 'sound' in clip ? (listen === 'cleaned' ? cleanedSound(clip, taken) : clip.sound) : undefined;
    return sound === undefined ? undefined : { soundPath: sound.soundPath, rateHz, lengthFrames };
  }

  /** Where a take lies on the session's time line; undefined while nobody knows. */
  placeOf(id: string): Clock | undefined {
    if (id === GUIDE_ID) return this.#progress().guide === undefined ? undefined : { offsetSec: 0, driftPpm: 0 };
    const placement = this.#desk.session.takes.find((take) => take.id === id)?.placement ?? undefined;
    return placement === undefined ? undefined : clockOf(placement);
  }

  /**
   * A take, or a voice made of passages ("voice:" and its id), on the session's time line; undefined where it is not there
   * (yet).
   */
  laidOf(id: string, listen: 'before' | 'cleaned' | 'after'): LaidSound | undefined {
    if (id.startsWith(VOICE_MARK)) {
      const part = this.#part(id.slice(VOICE_MARK.length));
      return part === undefined ? undefined : laidSoundOf(part, listen === 'before');
    }
    const sound = this.soundOf(id, listen);
    const place = this.placeOf(id);
    return sound === undefined || place === undefined
      ? undefined
      : { soundPath: sound.soundPath, rateHz: sound.rateHz, place };
  }

  /** A take's waveform pyramid; undefined until it is drawn. */
  waveOf(id: string, listen: Exclude<Listen, 'takenAway'>): { path: string; pairs: readonly number[] } | undefined {
    const clip = this.#clip(id);
    if (clip === undefined) return undefined;
    return listen === 'after' && 'after' in clip ? clip.after : clip.before;
  }

  /** Whether a take has this id, or it is the guide's and there is one, or a voice's (see laidOf). */
  has(id: string): boolean {
    if (this.#clip(id) !== undefined) return true;
    return this.#desk.session.voices.some((voice) => `${VOICE_MARK}${voice.id}` === id);
  }

  /** The clip itself, where it is known to be the one that was added and to hold sound. */
  clipOf(id: string): string | undefined {
    const clip = this.#clip(id);
    return clip?.look === 'there' && clip.taken !== undefined ? clip.file : undefined;
  }

  /** The small copy of a take's picture; undefined until it is there. */
  proxyOf(id: string): string | undefined {
    return this.#progress().pictures.get(id)?.proxyPath;
  }

  /** Whether a file lies in the session's folder, or is one of its clips, or of its newest render. */
  isOwn(path: string): boolean {
    const full = resolve(path);
    const files = [
      ...this.#progress().takes.map(({ file }) => file),
      this.#progress().guide?.file,
      this.#render()?.folder,
    ];
    const rendered = this.#render()?.files.some((file) => file.path === full) ?? false;
    return files.includes(full) || rendered || keptPath(this.#desk.folder, full) !== full || full === this.#desk.folder;
  }

  #clip(id: string): ClipProgress | TakeProgress | undefined {
    const { takes, guide } = this.#progress();
    return id === GUIDE_ID ? guide : takes.find((take) => take.id === id);
  }
}
