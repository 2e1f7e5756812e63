import { spawnSync } from 'node:child_process';
import { mkdirSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { type GuideFile, guideFileBeside } from '../../app/desk/guide-file.ts';
import { WaveFileWriter } from '../../app/work/wave-file.ts';
import { WaveSound } from '../../app/work/wave-sound.ts';
import { instrumentOf } from '../../core/guide/instrument.ts';
import { PartPlayer, type PlayedNote } from '../../core/guide/mock-up.ts';
import type { Part } from '../../core/guide/score.ts';
import { keyHz } from '../../core/guide/temperament.ts';
import { TempoMap } from '../../core/guide/tempo-map.ts';
import { BiquadCascade, designBiquad } from '../../core/signal/biquad.ts';
import { Random } from '../../core/signal/random.ts';
import { makeInterpolator } from '../../core/signal/resample.ts';
import { sixVoiceMidi } from './six-voices.ts';

/** A guide with its plan beside it, and clips of six voices that were played to it. */
export interface BenchEnsemble {
  readonly guide: string;
  readonly clips: readonly string[];
  /** The same sounds as mono WAVE files, for tools that read no other. */
  readonly waves: readonly string[];
}

const RATE_HZ = 48000;
const BLOCK = 16384;
/** A player's notes lie about the beat, and about the pitch, with these standard deviations. */
const SCATTER_SEC = 0.012;
const SCATTER_CENTS = 6;
/** Headphones leak from here to here, this far below the guide, dB. */
const LEAK_HZ = [700, 4000] as const;
export const LEAK_DB = -40;
/** Loudest drift of the takes' clocks, ppm. */
const DRIFT_PPM = 60;

/**
 * Makes the sound of six people at home: a score of random lines, its guide, and each part as its player recorded it: notes early
 * and late, out of tune, a clap on the cue, the guide's leakage from the headphones, a room's noise, another beginning and another
 * clock. AAC in MP4, 48 kHz, as a phone writes it. Seeded. partsong: how to start it. leakDb: null for headphones that leak nothing.
 */
export async function makeBenchEnsemble(
  partsong: readonly string[],
  folder: string,
  lengthSec: number,
  leakDb: number | null = LEAK_DB,
): Promise<BenchEnsemble> {
  mkdirSync(folder, { recursive: true });
  const score = join(folder, 'six.mid');
  writeFileSync(score, sixVoiceMidi(lengthSec));
  run([...partsong, 'guide', score, '--out', folder, '--format', 'wav']);
  const guide = join(folder, readdirSync(folder).find((name) => name.endsWith('.wav'))!);
  const file = await guideFileBeside(guide);
  if (file === undefined) throw new Error(`no .guide.json lies beside ${guide}`);
  const waves = file.score.parts.map((part, index) => {
    const path = join(folder, `voice ${index + 1}.wav`);
    playTake(path, file, part, guide, index, leakDb);
    return path;
  });
  const clips = waves.map((wave) => {
    const clip = wave.replace(/wav$/, 'm4a');
    run(['ffmpeg', '-loglevel', 'error', '-y', '-i', wave, '-c:a', 'aac', '-aac_coder', 'fast', '-b:a', '160k', clip]);
    return clip;
  });
  rmSync(score);
  return { guide, clips, waves };
}

function run(command: readonly string[]): void {
  const ended = spawnSync(command[0]!, command.slice(1), { encoding: 'utf8' });
  if (ended.status !== 0) throw new Error(`${command.join(' ')} ended with ${ended.status}: ${ended.stderr}`);
}

function playTake(
  path: string,
  { score, plan, settings }: GuideFile,
  part: Part,
  guidePath: string,
  index: number,
  leakDb: number | null,
): void {
  const random = new Random(70 + index);
  const leadSec = 3 * random.uniform() - 1;
  const speed = 1 + DRIFT_PPM * (2 * random.uniform() - 1) * 1e-6;
  const takeFrame = (frame: number): number => leadSec * RATE_HZ + frame * speed;
  const tempo = new TempoMap(score.tempo, score.holds);
  const frameAt = (quarters: number): number => plan.musicFrame + tempo.secAt(quarters) * RATE_HZ;
  const notes = part.notes
    .map((note): PlayedNote => {
      const late = SCATTER_SEC * RATE_HZ * random.gaussian();
      const detune = 2 ** ((SCATTER_CENTS * random.gaussian()) / 1200);
      return {
        fromFrame: Math.round(takeFrame(frameAt(note.atQuarters) + late)),
        toFrame: Math.round(takeFrame(frameAt(note.atQuarters + note.lengthQuarters) + late)),
        hz: (detune * keyHz(note.key, 'equal', 0, settings.referenceHz)) / speed,
        loudness: note.loudness,
      };
    })
    .sort((one, other) => one.fromFrame - other.fromFrame);
  const player = new PartPlayer(notes, instrumentOf(part.sound, RATE_HZ), RATE_HZ);
  const guide = new WaveSound(guidePath);
  const leak = makeInterpolator(1 / speed);
  const [lowHz, highHz] = LEAK_HZ;
  const headphones = new BiquadCascade([
    designBiquad({ kind: 'highPass', hz: lowHz, q: Math.SQRT1_2 }, RATE_HZ),
    designBiquad({ kind: 'lowPass', hz: highHz, q: Math.SQRT1_2 }, RATE_HZ),
  ]);
  const clapFrame = Math.round(takeFrame(plan.cues[0]!.clapFrame + SCATTER_SEC * RATE_HZ * random.gaussian()));
  const total = Math.round(takeFrame(plan.lengthFrames));
  const writer = new WaveFileWriter(path, { format: 'pcm16', channels: 1, rateHz: RATE_HZ });
  const block = new Float32Array(BLOCK);
  const heard = new Float32Array(BLOCK);
  const room = roomNoise(random);
  const leakGain = leakDb === null ? 0 : 10 ** (leakDb / 20);
  for (let from = 0; from < total; from += BLOCK) {
    block.fill(0);
    player.addTo(block, 2);
    leak.run(guide, (-leadSec * RATE_HZ) / speed, from, heard, 0, BLOCK);
    headphones.process(heard);
    for (let n = 0; n < BLOCK; n++) block[n]! += leakGain * heard[n]! + room();
    for (let n = Math.max(0, clapFrame - from); n < Math.min(BLOCK, clapFrame + 9600 - from); n++)
      block[n]! += 0.5 * (random.uniform() - 0.5) * Math.exp(-(from + n - clapFrame) / 700);
    writer.write([block.subarray(0, Math.min(BLOCK, total - from))]);
  }
  writer.finish();
  guide.close();
}

/** Noise of a room, some -62 dBFS, more of it below. */
function roomNoise(random: Random): () => number {
  let brown = 0;
  return () => {
    const white = random.uniform() - 0.5;
    brown = 0.98 * brown + 0.02 * white;
    return 0.01 * brown + 0.001 * white;
  };
}
