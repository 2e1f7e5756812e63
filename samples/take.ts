import { ratioToDb } from '../core/signal/decibels.ts';
import { Random } from '../core/signal/random.ts';
import { filterInPlace, highPass, lowPass } from './filter.ts';
import { play } from './instruments.ts';
import { type EventKind, makeEvent, makeNoise, type NoiseKind, rms } from './noise.ts';
import { colour, type PhoneColour, recordOnClock, toInt16 } from './phone.ts';
import { convolve, type Room, roomResponse } from './room.ts';
import { CUE_SEC, type Freedom, GUIDE_LENGTH_SEC, type Part, type PlayedNote, perform } from './score.ts';

const SCENE_RATE_HZ = 48000;
/** The scene begins this long before the guide does. */
const SCENE_LEAD_SEC = 5;
const SCENE_LENGTH_SEC = SCENE_LEAD_SEC + GUIDE_LENGTH_SEC + 3;

/** All that makes one take what it is. Times of events are session seconds. */
export interface TakePlan {
  readonly file: string;
  readonly part: Part;
  readonly seed: number;
  readonly freedom: Freedom;
  readonly room: Room;
  readonly phone: PhoneColour;
  readonly rateHz: 44100 | 48000;
  readonly channels: 1 | 2;
  readonly bitRateKbps: number;
  /** Session time of the clip's first sample. */
  readonly offsetSec: number;
  readonly driftPpm: number;
  /** How long the recording goes on after the guide has ended. */
  readonly afterSec: number;
  readonly noise: NoiseKind;
  /** Music, from its first to its last note, over the noise. */
  readonly snrDb: number;
  /** Level of the highest peak of the music before it is cut off at full scale. */
  readonly peakDbfs: number;
  /** Peak of the clap against the peak of the music. */
  readonly clapDb: number;
  readonly events: readonly { readonly kind: EventKind; readonly atSec: number; readonly levelDb: number }[];
  /** Level of the guide that leaks from the headphones, RMS against the music; null when they are closed. */
  readonly bleedDb: number | null;
}

/** A take as the telephone wrote it, and what is true of it. */
export interface RecordedTake {
  readonly samples: Int16Array;
  readonly clipSec: number;
  readonly notes: readonly PlayedNote[];
  readonly clapSessionSec: number;
  readonly clippedSamples: number;
  readonly gainDb: number;
  readonly noiseLevelDbfs: number;
  readonly musicLevelDbfs: number;
  /** The music alone, without noise, events and clipping, on the take's clock at the take's level. */
  readonly clean: Float64Array;
}

/** The take's own time of a session time. */
export function toTakeSec(plan: Pick<TakePlan, 'offsetSec' | 'driftPpm'>, sessionSec: number): number {
  return (sessionSec - plan.offsetSec) * (1 + plan.driftPpm * 1e-6);
}

function largest(sound: Float64Array): number {
  let most = 0;
  for (let i = 0; i < sound.length; i++) most = Math.max(most, Math.abs(sound[i]!));
  return most;
}

function addAt(scene: Float64Array, sound: Float64Array, sessionSec: number, ratio: number): void {
  const from = Math.round((sessionSec + SCENE_LEAD_SEC) * SCENE_RATE_HZ);
  for (let i = 0; i < sound.length && from + i < scene.length; i++) {
    if (from + i >= 0) scene[from + i]! += ratio * sound[i]!;
  }
}

/** What leaks from headphones: the middle and high part of the guide, RMS 1 from the first note on. */
function leakage(guide: Float64Array): Float64Array {
  const leak = guide.slice();
  filterInPlace(leak, highPass(600, SCENE_RATE_HZ));
  filterInPlace(leak, lowPass(6000, SCENE_RATE_HZ));
  const gain = 1 / rms(leak, Math.round(8 * SCENE_RATE_HZ), leak.length);
  for (let i = 0; i < leak.length; i++) leak[i]! *= gain;
  return leak;
}

/** Plays, claps, and records one take. The same plan and guide give the same samples. */
export function recordTake(plan: TakePlan, guide: Float64Array): RecordedTake {
  const random = new Random(plan.seed);
  const sceneLength = Math.round(SCENE_LENGTH_SEC * SCENE_RATE_HZ);
  const notes = perform(plan.part, plan.freedom, random.uint32());
  const shifted = notes.map((note) => ({ ...note, startSec: note.startSec + SCENE_LEAD_SEC }));
  const response = roomResponse(plan.room, SCENE_RATE_HZ);
  const music = convolve(play(plan.part.instrument, shifted, sceneLength, random.uint32()), response);
  const musicPeak = largest(music);

  const clapSessionSec = CUE_SEC + 0.012 * Math.max(-2, Math.min(2, random.gaussian()));
  const clapFrame = Math.round((clapSessionSec + SCENE_LEAD_SEC) * SCENE_RATE_HZ);
  const dryEvents = new Float64Array(sceneLength);
  addAt(dryEvents, makeEvent('clap', random.uint32()), clapSessionSec, musicPeak * 10 ** (plan.clapDb / 20));
  for (const { kind, atSec, levelDb } of plan.events) {
    addAt(dryEvents, makeEvent(kind, random.uint32()), atSec, musicPeak * 10 ** (levelDb / 20));
  }
  const others = convolve(dryEvents, response);

  const firstSec = notes[0]!.startSec;
  const lastSec = notes.at(-1)!.startSec + notes.at(-1)!.lengthSec;
  const frameOf = (sessionSec: number): number => Math.round(toTakeSec(plan, sessionSec) * plan.rateHz);
  const clock = { rateHz: plan.rateHz, startSec: plan.offsetSec + SCENE_LEAD_SEC, driftPpm: plan.driftPpm };
  const lengthFrames = frameOf(GUIDE_LENGTH_SEC + plan.afterSec);
  const onPhone = (sound: Float64Array): Float64Array => {
    const heard = recordOnClock(sound, SCENE_RATE_HZ, clock, lengthFrames);
    colour(heard, plan.phone, plan.rateHz);
    return heard;
  };
  const clean = onPhone(music);
  const musicRms = rms(clean, frameOf(firstSec), frameOf(lastSec));
  if (plan.bleedDb !== null) addAt(others, leakage(guide), 0, musicRms * 10 ** (plan.bleedDb / 20));
  const heardOthers = onPhone(others);
  const noise = makeNoise(plan.noise, lengthFrames, plan.rateHz, random.uint32());
  colour(noise, plan.phone, plan.rateHz);
  const noiseGain = (musicRms * 10 ** (-plan.snrDb / 20)) / rms(noise, 0, noise.length);

  const gain = 10 ** (plan.peakDbfs / 20) / largest(clean);
  const whole = new Float64Array(lengthFrames);
  for (let i = 0; i < lengthFrames; i++) {
    whole[i] = clean[i]! + heardOthers[i]! + noiseGain * noise[i]!;
    clean[i]! *= gain;
  }
  return {
    ...toInt16(whole, gain),
    clipSec: lengthFrames / plan.rateHz,
    notes,
    // The clap begins on a whole frame of the scene.
    clapSessionSec: clapFrame / SCENE_RATE_HZ - SCENE_LEAD_SEC,
    gainDb: ratioToDb(gain),
    noiseLevelDbfs: ratioToDb(noiseGain * rms(noise, 0, noise.length) * gain),
    musicLevelDbfs: ratioToDb(musicRms * gain),
    clean,
  };
}
