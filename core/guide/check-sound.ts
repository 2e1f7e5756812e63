import { type ClapSound, findClapSounds } from '../lineup/clap.ts';
import { levelsOf } from '../lineup/level-gatherer.ts';
import { musicStart } from '../lineup/music-start.ts';
import { standingClaps } from '../lineup/standing-claps.ts';
import type { Levels } from '../lineup/trace.ts';
import { learnRoom } from '../noise/noise.ts';
import type { TakeStudy } from '../noise/silence-finder.ts';
import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { FoldReason } from '../signal/fold.ts';
import type { Sound } from '../signal/sound.ts';
import type { FigureInput } from './check-input.ts';
import { type CheckCurves, CheckMeter, type LevelCurves } from './check-meter.ts';
import { echoOfClap } from './room-echo.ts';
import { type CheckFigures, figuresOf, judgeTake, type SoundCheck } from './sound-check.ts';

/** What else is known of a trial take. */
export interface CheckOptions {
  /** What a SilenceFinder found in it before; absent: it is read once more. */
  readonly study?: TakeStudy | undefined;
  /** What was heard of its levels before; absent: it is read once more. */
  readonly levels?: Levels | undefined;
  /** What a CheckMeter gathered of it before; absent: it is read once more. */
  readonly curves?: CheckCurves | undefined;
  /** How its channels became one. */
  readonly fold: FoldReason;
  /** Times at which the guide knocks while nobody plays (count-in, cue), s of the take; empty without a guide. */
  readonly guideKnocksSec: readonly number[];
  readonly cancel?: Cancel;
  /** 0 to 1. */
  readonly onProgress?: (share: number) => void;
}

const BLOCK_FRAMES = 16384;
/** The clap may be clipped: it is no music. */
const CLAP_BEFORE_SEC = 0.05;
const CLAP_AFTER_SEC = 0.3;
/** A clap shortly before the music can be taken for its beginning. */
const BEGINS_WITH_CLAP_SEC = 0.4;
/** The guide's knock sounds in this time after it began; the room before it is what it is held against, s. */
const KNOCK_SEC = 0.04;

/**
 * Listens to a trial take, mono, any rate, and says what to change. Reads it up to four times, block by block; where all is known
 * before, its silences alone.
 * Memory: four numbers per 50 ms and line-up's levels (4 kB a second).
 */
export function checkSound(sound: Sound, options: CheckOptions): SoundCheck {
  const { cancel, onProgress } = options;
  const heard = hear(sound, options);
  const { study } = heard.room;
  const meter = options.curves === undefined ? new CheckMeter(sound.rateHz) : undefined;
  const clipped = readThrough(sound, meter, study, heard.clap?.atSec, cancel);
  onProgress?.(1);
  return judgeTake({
    ...figureInput(sound, heard, options.curves ?? meter!.result()),
    noSilence: heard.room.kind === 'leave' ? heard.room.reason : null,
    lines: heard.room.kind === 'learnt' ? heard.room.profile.lines : [],
    clippedSamples: clipped === 0 ? null : clipped,
    musicFromSec: heard.musicSec ?? null,
    fold: options.fold,
    digitalSilenceSec: study.digitalSilences.reduce(
      (sum, one) => sum + (one.toFrame - one.fromFrame) / sound.rateHz,
      0,
    ),
    bleedDbfs: bleedOf(sound, options.guideKnocksSec),
  });
}

/** The figures of a take of which the rest is known: those that checkSound gives, to the last bit, without a guide's knocks. Reads its silences and its clap alone. */
export function figuresOfSound(
  sound: Sound,
  curves: LevelCurves,
  options: Pick<CheckOptions, 'study' | 'levels' | 'cancel'>,
): CheckFigures {
  return figuresOf(figureInput(sound, hear(sound, options), curves));
}

/** What is heard of a take beside its levels. */
interface Heard {
  readonly musicSec: number | undefined;
  readonly clap: ClapSound | undefined;
  readonly room: ReturnType<typeof learnRoom>;
}

function hear(
  sound: Sound,
  { study, levels: known, cancel, onProgress }: Pick<CheckOptions, 'study' | 'levels' | 'cancel' | 'onProgress'>,
): Heard {
  const levels = known ?? levelsOf(sound, cancel);
  onProgress?.(0.2);
  const musicSec = musicStart(levels);
  const sounds = findClapSounds(levels).filter(
    (one) => musicSec === undefined || one.atSec < musicSec + BEGINS_WITH_CLAP_SEC,
  );
  // In a room that rings for long a clap is not like one any more; the sharpest sound still tells of the room.
  const clap = standingClaps(sounds, musicSec)[0] ?? sounds.toSorted((a, b) => b.riseDb - a.riseDb)[0];
  const room = learnRoom(sound, {
    levelOnly: true,
    ...(study === undefined ? {} : { study }),
    ...(cancel === undefined ? {} : { cancel }),
  });
  onProgress?.(0.5);
  return { musicSec, clap, room };
}

function figureInput<Curves extends LevelCurves>(
  sound: Sound,
  { clap, room }: Heard,
  curves: Curves,
): FigureInput & { readonly curves: Curves } {
  const silences = room.kind === 'learnt' ? room.silences : [];
  const first = silences[0];
  const seconds = (frame: number): number => frame / sound.rateHz;
  return {
    curves,
    silences: silences.map((one) => ({ fromSec: seconds(one.fromFrame), toSec: seconds(one.toFrame) })),
    noiseDbfs: room.kind === 'learnt' ? room.profile.levelDbfs : null,
    humHz: room.kind === 'learnt' ? room.profile.humHz : null,
    clap: clap ?? null,
    echoSec:
      clap === undefined || first === undefined
        ? null
        : (echoOfClap(sound, clap.atSec, nextSoundSec(curves, clap.atSec), first) ?? null),
    bleedDbfs: null,
  };
}

/** Where something sounds again after a clap, s: the level doubles from one step to the next but one. */
function nextSoundSec({ power, stepSec }: LevelCurves, clapSec: number): number {
  for (let step = Math.ceil((clapSec + CLAP_AFTER_SEC) / stepSec); step + 2 < power.length; step++) {
    if (power[step + 2]! > 4 * power[step]!) return step * stepSec;
  }
  return power.length * stepSec;
}

/** Feeds the meter, where there is one, and counts the samples that are cut off outside the clap. */
function readThrough(
  sound: Sound,
  meter: CheckMeter | undefined,
  study: TakeStudy,
  clapSec: number | undefined,
  cancel: Cancel | undefined,
): number {
  if (meter === undefined && study.clip === null) return 0;
  const from = clapSec === undefined ? -1 : (clapSec - CLAP_BEFORE_SEC) * sound.rateHz;
  const to = clapSec === undefined ? -1 : (clapSec + CLAP_AFTER_SEC) * sound.rateHz;
  const buffer = new Float32Array(BLOCK_FRAMES);
  let clipped = 0;
  for (let frame = 0; frame < sound.lengthFrames; frame += BLOCK_FRAMES) {
    throwIfCancelled(cancel);
    const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, sound.lengthFrames - frame));
    sound.read(frame, samples);
    meter?.add(samples);
    if (study.clip !== null) clipped += countClipped(samples, frame, study.clip.threshold, from, to);
  }
  return clipped;
}

function countClipped(samples: Float32Array, at: number, threshold: number, from: number, to: number): number {
  let count = 0;
  for (let n = 0; n < samples.length; n++) {
    if (Math.abs(samples[n]!) >= threshold && !(at + n >= from && at + n <= to)) count++;
  }
  return count;
}

/** Level of the guide's knocks over the room just before them, dBFS; null where they cannot be heard. */
function bleedOf(sound: Sound, knocksSec: readonly number[]): number | null {
  const length = Math.round(KNOCK_SEC * sound.rateHz);
  const samples = new Float32Array(length);
  const power = (fromSec: number): number => {
    sound.read(Math.round(fromSec * sound.rateHz), samples);
    return samples.reduce((sum, one) => sum + one * one, 0) / length;
  };
  const inside = knocksSec.filter((sec) => sec > 0.2 && sec * sound.rateHz + length < sound.lengthFrames);
  if (inside.length < 3) return null;
  const over = inside.map((sec) => power(sec) - power(sec - 2 * KNOCK_SEC)).sort((a, b) => a - b);
  const rooms = inside.map((sec) => power(sec - 2 * KNOCK_SEC)).sort((a, b) => a - b);
  const middle = over[over.length >> 1]!;
  // A knock that lifts the room by less than 3 dB cannot be told from it.
  return middle > rooms[rooms.length >> 1]! ? 10 * Math.log10(2 * middle) : null;
}
