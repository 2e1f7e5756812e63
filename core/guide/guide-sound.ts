import { SESSION_RATE_HZ } from '../signal/time.ts';
import type { GuidePlan } from './guide-plan.ts';
import { instrumentOf } from './instrument.ts';
import { PartPlayer, type PlayedNote } from './mock-up.ts';
import type { Score } from './score.ts';
import { keyHz, type Temperament } from './temperament.ts';
import { TempoMap } from './tempo-map.ts';

/** How the guide sounds. */
export interface GuideSoundSettings {
  readonly referenceHz: number;
  readonly temperament: Temperament;
  /** The key note the temperament is built on, 0 (C) to 11 (B). */
  readonly tonic: number;
  /** Gain of each part by its id, dB; -Infinity leaves it out. Parts that are not named sound at 0 dB. */
  readonly partGainsDb: Readonly<Record<string, number>>;
  readonly clickDb: number;
  /** A held tone under the music, a key number; null for none. */
  readonly droneKey: number | null;
}

/** Level of the tones and of the click at 0 dB, linear. Our own choice: about as loud as one part of the mock-up. */
const TONE_LEVEL = 0.09;
const CLICK_LEVEL = 0.22;
const DRONE_LEVEL = 0.03;
const TONE_FADE_SEC = 0.08;

/** A click: a short, dry knock of two decaying partials. Hz, level, time to fall by 60 dB. */
const CLICKS = {
  bar: { hz: 1760, level: 1, fallSec: 0.09 },
  beat: { hz: 1174.7, level: 0.7, fallSec: 0.08 },
  unit: { hz: 1174.7, level: 0.3, fallSec: 0.05 },
} as const;
/** The cue's beats are softer and lower than the click, so that nobody takes them for the count-in. */
const CUE_HZ = 587.33;
const CUE_LEVEL = 0.14;
const CUE_FALL_SEC = 0.35;
/** A knock rises in this time: short enough to be located, long enough not to crackle. */
const KNOCK_RISE_SEC = 0.001;

/**
 * The guide as sound, mono, 48 kHz, block after block: tones, cue, click, drone and the mock-up of the parts. The sound does
 * not depend on how it is cut. Memory: the notes of the score and what sounds at the moment.
 */
export class GuideSound {
  readonly lengthFrames: number;
  readonly #players: readonly { readonly player: PartPlayer; readonly gain: number }[];
  readonly #knocks: readonly Knock[];
  readonly #tones: readonly Tone[];
  #frame = 0;
  #firstKnock = 0;

  constructor(score: Score, plan: GuidePlan, settings: GuideSoundSettings) {
    this.lengthFrames = plan.lengthFrames;
    this.#players = score.parts.flatMap((part) => {
      const gainDb = settings.partGainsDb[part.id] ?? 0;
      if (gainDb === Number.NEGATIVE_INFINITY) return [];
      const player = new PartPlayer(
        notesOf(score, part.id, plan, settings),
        instrumentOf(part.sound, SESSION_RATE_HZ),
        SESSION_RATE_HZ,
      );
      return [{ player, gain: 10 ** (gainDb / 20) }];
    });
    this.#knocks = knocksOf(plan, settings);
    this.#tones = tonesOf(plan, settings);
  }

  /** Fills `target` with the next frames; past the end it stays silent. */
  next(target: Float32Array): void {
    target.fill(0);
    for (const { player, gain } of this.#players) player.addTo(target, gain);
    for (const tone of this.#tones) addTone(tone, this.#frame, target);
    this.#addKnocks(target);
    this.#frame += target.length;
  }

  #addKnocks(target: Float32Array): void {
    const end = this.#frame + target.length;
    for (let at = this.#firstKnock; at < this.#knocks.length; at++) {
      const knock = this.#knocks[at]!;
      if (knock.frame >= end) break;
      if (knock.frame + knock.lengthFrames <= this.#frame) {
        if (at === this.#firstKnock) this.#firstKnock++;
        continue;
      }
      addKnock(knock, this.#frame, target);
    }
  }
}

function notesOf(score: Score, partId: string, plan: GuidePlan, settings: GuideSoundSettings): PlayedNote[] {
  const tempo = new TempoMap(score.tempo, score.holds);
  const frameAt = (quarters: number): number => plan.musicFrame + Math.round(tempo.secAt(quarters) * SESSION_RATE_HZ);
  const part = score.parts.find((one) => one.id === partId);
  return (part?.notes ?? []).map((note) => ({
    fromFrame: frameAt(note.atQuarters),
    toFrame: frameAt(note.atQuarters + note.lengthQuarters),
    hz: keyHz(note.key, settings.temperament, settings.tonic, settings.referenceHz),
    loudness: note.loudness,
  }));
}

interface Tone {
  readonly fromFrame: number;
  readonly toFrame: number;
  readonly hz: number;
  readonly level: number;
}

function tonesOf(plan: GuidePlan, settings: GuideSoundSettings): Tone[] {
  const tones: Tone[] = plan.tones.map(({ fromFrame, toFrame, hz }) => ({ fromFrame, toFrame, hz, level: TONE_LEVEL }));
  if (settings.droneKey !== null) {
    const hz = keyHz(settings.droneKey, settings.temperament, settings.tonic, settings.referenceHz);
    tones.push({ fromFrame: plan.countInFrame, toFrame: plan.musicEndFrame, hz, level: DRONE_LEVEL });
  }
  return tones;
}

/** A soft tone with a little of its octave and twelfth, faded in and out within its own length. */
function addTone(tone: Tone, targetFrame: number, target: Float32Array): void {
  const from = Math.max(0, tone.fromFrame - targetFrame);
  const to = Math.min(target.length, tone.toFrame - targetFrame);
  const fade = TONE_FADE_SEC * SESSION_RATE_HZ;
  for (let n = from; n < to; n++) {
    const at = targetFrame + n - tone.fromFrame;
    const edge = Math.min(1, at / fade, (tone.toFrame - targetFrame - n) / fade);
    const angle = 2 * Math.PI * ((at * tone.hz) / SESSION_RATE_HZ);
    const value = Math.sin(angle) + 0.3 * Math.sin(2 * angle) + 0.12 * Math.sin(3 * angle);
    target[n]! += tone.level * (0.5 - 0.5 * Math.cos(Math.PI * edge)) * value;
  }
}

interface Knock {
  readonly frame: number;
  readonly lengthFrames: number;
  readonly hz: number;
  readonly level: number;
  readonly fallSec: number;
}

function knocksOf(plan: GuidePlan, settings: GuideSoundSettings): Knock[] {
  const clickGain = CLICK_LEVEL * 10 ** (settings.clickDb / 20);
  const clicks = plan.clicks.map(({ frame, kind }) =>
    knock(frame, CLICKS[kind].hz, clickGain * CLICKS[kind].level, CLICKS[kind].fallSec),
  );
  const cues = plan.cues.flatMap((cue) => cue.beatFrames.map((frame) => knock(frame, CUE_HZ, CUE_LEVEL, CUE_FALL_SEC)));
  return [...clicks, ...cues].sort((a, b) => a.frame - b.frame);
}

function knock(frame: number, hz: number, level: number, fallSec: number): Knock {
  return { frame, hz, level, fallSec, lengthFrames: Math.ceil(1.4 * fallSec * SESSION_RATE_HZ) };
}

function addKnock(one: Knock, targetFrame: number, target: Float32Array): void {
  const from = Math.max(0, one.frame - targetFrame);
  const to = Math.min(target.length, one.frame + one.lengthFrames - targetFrame);
  for (let n = from; n < to; n++) {
    const sec = (targetFrame + n - one.frame) / SESSION_RATE_HZ;
    const rise = Math.min(1, sec / KNOCK_RISE_SEC);
    const angle = 2 * Math.PI * one.hz * sec;
    const value = Math.sin(angle) + 0.35 * Math.sin(2.76 * angle) * 10 ** ((-3 * sec) / (0.5 * one.fallSec));
    target[n]! += one.level * rise * 10 ** ((-3 * sec) / one.fallSec) * value;
  }
}
