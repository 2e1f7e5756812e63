import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Random } from '../../../../core/signal/random.ts';
import { writeWave } from '../../media/clip-kit.ts';

export const CLIP_RATE_HZ = 44100;
export const CLIP_SEC = 12;

/** The sound of a short take: 3 s of room, a clap, notes from 5 s to 11 s; `late` seconds behind the others. */
export function shortTake(seed: number, late = 0): Float32Array {
  const random = new Random(seed);
  const samples = new Float32Array(CLIP_SEC * CLIP_RATE_HZ);
  for (let n = 0; n < samples.length; n++) samples[n] = 0.002 * random.gaussian();
  const clap = Math.round((3 + late) * CLIP_RATE_HZ);
  for (let n = 0; n < 3000; n++) samples[clap + n]! += 0.5 * Math.exp(-n / 300) * random.gaussian();
  for (let note = 0; note < 12; note++) {
    const begin = Math.round((5 + late + note * 0.5) * CLIP_RATE_HZ);
    const hz = 220 * 2 ** (((note * 5 + seed) % 12) / 12);
    for (let n = 0; n < 0.48 * CLIP_RATE_HZ; n++) {
      const sec = n / CLIP_RATE_HZ;
      const shape = Math.min(1, sec / 0.01) * Math.exp(-3 * sec);
      samples[begin + n]! += 0.2 * shape * Math.sin(2 * Math.PI * hz * sec);
    }
  }
  return samples;
}

/** The bytes of clips that were written before: to make one anew took 0.1 s of processor time, forty times a run. */
const written = new Map<number, Buffer>();

/** Writes short takes as clips in two channels (so that they are decoded into the cache) and gives their paths. */
export function writeShortClips(folder: string, names: readonly string[]): string[] {
  mkdirSync(folder, { recursive: true });
  return names.map((name, index) => {
    const path = join(folder, name);
    const known = written.get(index);
    if (known === undefined) {
      const samples = shortTake(index + 1, 0.1 * index);
      writeWave(path, [samples, samples], CLIP_RATE_HZ);
      written.set(index, readFileSync(path));
    } else writeFileSync(path, known);
    return path;
  });
}
