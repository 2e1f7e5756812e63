import { LoudnessMeter } from '../../../core/loudness/loudness.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import { PlacedSound } from '../../../core/signal/placed-sound.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { writeWhole } from '../../media/whole-file.ts';
import type { TaskControl } from '../control.ts';
import { openSound } from '../sound-file.ts';
import { signalOver } from '../stop-signal.ts';
import { WaveFileWriter } from '../wave-file.ts';

export interface StemRequest {
  /** The cleaned take in the cache, at its own rate. */
  readonly soundPath: string;
  readonly rateHz: number;
  readonly offsetSec: number;
  readonly driftPpm: number;
  /** How long the stem is to be, session frames from session time zero on. */
  readonly lengthFrames: number;
  readonly target: string;
  readonly description: string;
}

/** Loudness of the stem over time. */
export interface StemResult {
  readonly integratedLufs: number;
  /** Momentary loudness each 0.1 s, LUFS. */
  readonly momentaryLufs: readonly number[];
}

const BLOCK_FRAMES = 16384;

/** Lays a take on the session's time line as a float stem and measures it on the way. */
export async function stem(request: StemRequest, control: TaskControl): Promise<StemResult> {
  const stop = signalOver(control.cancel);
  const sound = openSound(request.soundPath, request.rateHz);
  try {
    const placed = new PlacedSound(sound, {
      offsetSec: request.offsetSec,
      driftPpm: request.driftPpm,
      sessionRateHz: SESSION_RATE_HZ,
    });
    const meter = new LoudnessMeter({ rateHz: SESSION_RATE_HZ, channels: 1, curves: true, truePeak: 'off' });
    await writeWhole(
      request.target,
      async (path) => {
        const writer = new WaveFileWriter(path, {
          format: 'float32',
          channels: 1,
          rateHz: SESSION_RATE_HZ,
          bext: { timeReferenceFrames: 0, description: request.description, originator: 'Partsong' },
        });
        try {
          const buffer = new Float32Array(BLOCK_FRAMES);
          for (let from = 0; from < request.lengthFrames; from += BLOCK_FRAMES) {
            throwIfCancelled(control.cancel);
            const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, request.lengthFrames - from));
            placed.read(from, samples);
            writer.write([samples]);
            meter.add([samples]);
            control.onProgress(from / request.lengthFrames);
            await control.breathe();
          }
        } catch (error) {
          writer.abandon();
          throw error;
        }
        writer.finish();
      },
      stop.signal,
    );
    const report = meter.result();
    return {
      integratedLufs: report.integratedLufs,
      momentaryLufs: report.curves?.momentaryLufs ?? [],
    };
  } finally {
    stop.release();
    sound.close();
  }
}
