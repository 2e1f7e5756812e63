import { existsSync, renameSync, rmSync } from 'node:fs';
import { type BandLevel, bandSpectrum } from '../../../core/noise/band-spectrum.ts';
import { Cleaner } from '../../../core/noise/cleaner.ts';
import type { ClipFacts } from '../../../core/noise/clip-facts.ts';
import { type LearntNoise, learnNoise, type Stretch } from '../../../core/noise/learn.ts';
import type { NoiseProfile } from '../../../core/noise/profile.ts';
import { type Character, settingsOf } from '../../../core/noise/settings.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { SoundFile, SoundFileWriter } from '../sound-file.ts';

export interface CleanTakeRequest {
  readonly soundPath: string;
  readonly rateHz: number;
  /** Silences to learn from, best first. */
  readonly silences: readonly Stretch[];
  readonly clip: ClipFacts | null;
  readonly character: Character;
  readonly rule: 'lsa' | 'wiener' | 'subtract';
  /** Where the cleaned sound goes, and what was taken away where it is wanted. Both take their names when whole. */
  readonly cleanedPath: string;
  readonly removedPath?: string;
}

/** What cleaning a take came to. Without a usable silence nothing is written. */
export type CleanTakeResult =
  | { readonly kind: 'unfit'; readonly reason: Extract<LearntNoise, { kind: 'unfit' }>['reason'] }
  | {
      readonly kind: 'cleaned';
      readonly silence: Stretch;
      readonly humHz: number | null;
      readonly levelDbfs: number;
      readonly reducedDb: number;
      readonly harmDb: number | null;
      readonly kurtosisRatio: number | null;
      readonly character: Character;
      readonly before: readonly BandLevel[];
      readonly after: readonly BandLevel[];
      readonly notes: readonly string[];
    };

const BLOCK_FRAMES = 16384;

/** Learns a take's noise and writes the take without it, as long as it was. */
export async function cleanTake(request: CleanTakeRequest, control: TaskControl): Promise<CleanTakeResult> {
  const sound = new SoundFile(request.soundPath, request.rateHz);
  try {
    const learnt = learnNoise(sound, request.silences, control.cancel);
    if (learnt.kind === 'unfit') return { kind: 'unfit', reason: learnt.reason };
    writeCleaned(request, sound, learnt.profile, control);
    return measured(request, sound, learnt.profile);
  } finally {
    sound.close();
  }
}

function writeCleaned(request: CleanTakeRequest, sound: SoundFile, profile: NoiseProfile, control: TaskControl): void {
  const parts = [request.cleanedPath, request.removedPath]
    .filter((path) => path !== undefined)
    .map((path) => ({ path, part: `${path}.part` }));
  const writers = parts.map(({ part }) => new SoundFileWriter(part));
  try {
    try {
      const cleaner = new Cleaner(request.rateHz, profile, settingsOf(request.character, request.rule), request.clip);
      const buffer = new Float32Array(BLOCK_FRAMES);
      for (let from = 0; from < sound.lengthFrames; from += BLOCK_FRAMES) {
        throwIfCancelled(control.cancel);
        const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, sound.lengthFrames - from));
        sound.read(from, samples);
        const output = cleaner.process([samples]);
        writers.forEach((writer, index) => {
          writer.write(output[index]!);
        });
        control.onProgress(from / sound.lengthFrames);
      }
      const rest = cleaner.flush();
      writers.forEach((writer, index) => {
        writer.write(rest[index]!);
      });
    } finally {
      for (const writer of writers) writer.close();
    }
    for (const { path, part } of parts) renameSync(part, path);
  } finally {
    for (const { part } of parts) if (existsSync(part)) rmSync(part, { force: true });
  }
}

function measured(request: CleanTakeRequest, sound: SoundFile, profile: NoiseProfile): CleanTakeResult {
  const silence = request.silences[0]!;
  const cleaned = new SoundFile(request.cleanedPath, request.rateHz);
  try {
    const before = bandSpectrum(sound, silence);
    const after = bandSpectrum(cleaned, silence);
    return {
      kind: 'cleaned',
      silence,
      humHz: profile.humHz,
      levelDbfs: profile.levelDbfs,
      reducedDb: 0,
      harmDb: null,
      kurtosisRatio: null,
      character: request.character,
      before,
      after,
      notes: [],
    };
  } finally {
    cleaned.close();
  }
}
