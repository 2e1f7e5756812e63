import { join } from 'node:path';
import { encodeAudio } from '../../../app/media/encode.ts';
import type { GuidePlan } from '../../../core/guide/guide-plan.ts';
import { instrumentOf } from '../../../core/guide/instrument.ts';
import { PartPlayer } from '../../../core/guide/mock-up.ts';
import type { Part, Score } from '../../../core/guide/score.ts';
import { keyHz } from '../../../core/guide/temperament.ts';
import { TempoMap } from '../../../core/guide/tempo-map.ts';
import { Random } from '../../../core/signal/random.ts';

/** How a take is played and recorded; s and ppm, as the truth that tests hold findings against. */
export interface TakeTruth {
  readonly name: string;
  readonly part: number;
  readonly seed: number;
  /** Session time at which the recorder was started; before the guide where negative. */
  readonly offsetSec: number;
  readonly driftPpm: number;
  /** Session times of knocks that are no claps (a chair), about as loud as the clap. */
  readonly knocksSec?: readonly number[];
  /** Level of the guide that leaks from the headphones, linear; none where absent. */
  readonly leak?: number;
  /** Noise of another kind between these session times: the player is not still. */
  readonly restless?: readonly [number, number];
  /** The player never claps at the end. */
  readonly onlyFirstClap?: boolean;
}

export interface PlayedTake extends TakeTruth {
  readonly file: string;
  /** Session times of the claps as they were clapped. */
  readonly clapsSec: readonly number[];
}

const RATE_HZ = 48000;
/** Scatter of a player's notes about the guide and of claps about the cue, s, one standard deviation. */
const NOTE_SCATTER_SEC = 0.025;
const CLAP_SCATTER_SEC = 0.012;

/**
 * Plays one part of a score to a guide as people do, in a room with noise, and encodes what the phone would have kept.
 * guide: its sound, where it leaks.
 */
export async function playTake(
  truth: TakeTruth,
  score: Score,
  plan: GuidePlan,
  guide: Float32Array,
  folder: string,
): Promise<PlayedTake> {
  const random = new Random(truth.seed);
  const ownRateHz = RATE_HZ * (1 + truth.driftPpm * 1e-6);
  const frameAt = (sessionSec: number): number => Math.round((sessionSec - truth.offsetSec) * ownRateHz);
  const samples = roomNoise(frameAt(plan.lengthFrames / RATE_HZ + 1), random);
  if (truth.restless !== undefined) rustle(samples, truth.restless.map(frameAt), random);
  const clapsSec = plan.cues
    .filter((cue) => cue.at === 'start' || truth.onlyFirstClap !== true)
    .map((cue) => cue.clapFrame / RATE_HZ + CLAP_SCATTER_SEC * random.gaussian());
  for (const at of clapsSec) addBurst(samples, frameAt(at), 0.4, 0.012, random);
  for (const at of truth.knocksSec ?? []) addBurst(samples, frameAt(at), 0.3, 0.02, random);
  addNotes(samples, score, score.parts[truth.part]!, plan, { frameAt, ownRateHz }, random);
  if (truth.leak !== undefined) addLeak(samples, guide, truth.offsetSec, ownRateHz, truth.leak);
  const file = join(folder, `${truth.name}.m4a`);
  const blocks = cut(samples);
  await encodeAudio({ kind: 'blocks', blocks, rateHz: RATE_HZ, channels: 1 }, file, {
    format: 'm4a',
    bitrateKbps: 128,
  });
  return { ...truth, file, clapsSec };
}

async function* cut(samples: Float32Array): AsyncGenerator<Float32Array[]> {
  for (let from = 0; from < samples.length; from += 65_536) yield [samples.subarray(from, from + 65_536)];
}

/** Noise of a quiet room, -62 dBFS, darker than white. */
function roomNoise(length: number, random: Random): Float32Array {
  const samples = new Float32Array(length);
  let state = 0;
  for (let n = 0; n < length; n++) {
    state += 0.2 * (random.gaussian() - state);
    samples[n] = 0.0024 * state;
  }
  return samples;
}

function rustle(samples: Float32Array, [from, to]: readonly number[], random: Random): void {
  for (let n = Math.max(0, from!); n < to!; n++) {
    const swell = Math.sin((2 * Math.PI * n) / 9000) ** 8;
    samples[n]! += 0.03 * swell * random.gaussian();
  }
}

/** A sharp sound: noise that falls by 1/e in `fallSec`, with a faint tail of the room. */
function addBurst(samples: Float32Array, at: number, level: number, fallSec: number, random: Random): void {
  for (let n = 0; n < 0.25 * RATE_HZ && at + n < samples.length; n++) {
    if (at + n < 0) continue;
    const sec = n / RATE_HZ;
    const shape = Math.min(1, sec / 0.0008) * (Math.exp(-sec / fallSec) + 0.03 * Math.exp(-sec / 0.06));
    samples[at + n]! += level * shape * random.gaussian() * 0.5;
  }
}

function addNotes(
  samples: Float32Array,
  score: Score,
  part: Part,
  plan: GuidePlan,
  clock: { frameAt: (sec: number) => number; ownRateHz: number },
  random: Random,
): void {
  const tempo = new TempoMap(score.tempo, score.holds);
  const secAt = (quarters: number): number => plan.musicFrame / RATE_HZ + tempo.secAt(quarters);
  const notes = part.notes.map((note) => {
    const late = NOTE_SCATTER_SEC * random.gaussian();
    return {
      fromFrame: clock.frameAt(secAt(note.atQuarters) + late),
      toFrame: clock.frameAt(secAt(note.atQuarters + 0.9 * note.lengthQuarters) + late),
      hz: keyHz(note.key, 'equal', 0, 440),
      loudness: note.loudness,
    };
  });
  notes.sort((a, b) => a.fromFrame - b.fromFrame);
  new PartPlayer(notes, instrumentOf(part.sound, clock.ownRateHz), clock.ownRateHz).addTo(samples, 1.4);
}

function addLeak(
  samples: Float32Array,
  guide: Float32Array,
  offsetSec: number,
  ownRateHz: number,
  level: number,
): void {
  for (let n = 0; n < samples.length; n++) {
    const at = (offsetSec + n / ownRateHz) * RATE_HZ;
    const whole = Math.floor(at);
    if (whole < 0 || whole + 1 >= guide.length) continue;
    samples[n]! += level * (guide[whole]! + (at - whole) * (guide[whole + 1]! - guide[whole]!));
  }
}
