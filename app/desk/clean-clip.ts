import { basename } from 'node:path';
import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import { levelForReport, type TakeReport } from '../../core/session/report.ts';
import type { Span } from '../../core/session/schema.ts';
import { PartsongError, throwIfCancelled } from '../../core/signal/fault.ts';
import { writeWhole } from '../media/whole-file.ts';
import { SoundFile } from '../work/sound-file.ts';
import type { CleanTakeRequest } from '../work/tasks/clean-take.ts';
import { WaveFileWriter } from '../work/wave-file.ts';
import { cleanTaken, UNFIT_SENTENCE } from './clean-taken.ts';
import { bareName, voiceNameOf } from './names.ts';
import { withScratch } from './scratch.ts';
import { takeInClips } from './take-in.ts';

export interface CleanOptions {
  readonly clip: string;
  readonly out: string;
  /** Where nobody plays, in the take's own time; searched when absent. */
  readonly silence?: Span | undefined;
  readonly rule: CleanTakeRequest['rule'];
  readonly character: CleanTakeRequest['character'];
  /** Where what was taken away is to go. */
  readonly removed?: string | undefined;
  readonly signal: AbortSignal;
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** What `partsong clean --json` prints: the take's record, which also stands in `takes` as in every other report. */
export interface CleanReport extends TakeReport {
  readonly takes: readonly TakeReport[];
}

const BLOCK_FRAMES = 16384;

/**
 * Writes one take without its noise: mono float WAV at the take's own rate, on its own time line, as long as it was.
 * Throws PartsongError 'no-silence' when there is nothing to learn from, and nothing is written then.
 */
export function cleanClip(options: CleanOptions): Promise<CleanReport> {
  const { clip, signal, onStep } = options;
  return withScratch(async (cache, pool) => {
    const [take] = await takeInClips([clip], cache, pool, { signal, onProgress: onStep('Listening to the take') });
    if (take === undefined) throw new RangeError('no take came back');
    const wish = {
      character: options.character,
      rule: options.rule,
      given: [options.silence],
      removed: options.removed !== undefined,
    };
    const [cleaned] = await cleanTaken([take], wish, cache, pool, { signal, onProgress: onStep('Cleaning') });
    if (cleaned === undefined || cleaned.unfit !== null) {
      throw new PartsongError(
        'no-silence',
        `${clip} was not cleaned: ${UNFIT_SENTENCE[cleaned?.unfit ?? 'all music']}`,
        'Give the stretch with --silence FROM-TO, in seconds of the take, for example --silence 2-5.',
        clip,
      );
    }
    const loudness = await writeWave(cleaned.soundPath, take.rateHz, options.out, signal);
    if (options.removed !== undefined && cleaned.removedPath !== undefined) {
      await writeWave(cleaned.removedPath, take.rateHz, options.removed, signal);
    }
    const report: TakeReport = {
      file: basename(clip),
      name: bareName(clip),
      voice: voiceNameOf(clip),
      lengthSec: take.lengthFrames / take.rateHz,
      stem: null,
      silence: cleaned.silence,
      noise: cleaned.noise,
      placement: null,
      loudness: { integratedLufs: levelForReport(loudness) },
      music: null,
      gainDb: 0,
      role: 'free',
      placeDeg: 0,
      notes: [...take.notes, ...cleaned.notes],
    };
    return { ...report, takes: [report] };
  });
}

/** Copies a cached sound into a float WAV and gives its gated loudness, LUFS. */
function writeWave(soundPath: string, rateHz: number, target: string, signal: AbortSignal): Promise<number> {
  return writeWhole(
    target,
    async (path) => {
      const sound = new SoundFile(soundPath, rateHz);
      const writer = new WaveFileWriter(path, { format: 'float32', channels: 1, rateHz });
      const meter = new LoudnessMeter({ rateHz, channels: 1, truePeak: 'off' });
      try {
        const buffer = new Float32Array(BLOCK_FRAMES);
        for (let from = 0; from < sound.lengthFrames; from += BLOCK_FRAMES) {
          throwIfCancelled(signal);
          const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, sound.lengthFrames - from));
          sound.read(from, samples);
          writer.write([samples]);
          meter.add([samples]);
        }
      } catch (error) {
        writer.abandon();
        throw error;
      } finally {
        sound.close();
      }
      writer.finish();
      return meter.result().integratedLufs;
    },
    signal,
  );
}
