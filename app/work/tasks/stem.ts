import { TruePeakMeter } from '../../../core/loudness/true-peak.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { writeWhole } from '../../media/whole-file.ts';
import type { TaskControl } from '../control.ts';
import { type LaidSound, openLaid } from '../laid-sound.ts';
import { signalOver } from '../stop-signal.ts';
import { WaveFileWriter } from '../wave-file.ts';

export interface StemRequest {
  /** The cleaned take in the cache, and where it lies. */
  readonly sound: LaidSound;
  /** How long the stem is to be, session frames from session time zero on. */
  readonly lengthFrames: number;
  readonly target: string;
  readonly description: string;
}

export interface StemResult {
  /** Of the samples that were written; -Infinity where all are zero. */
  readonly truePeakDbtp: number;
}

const BLOCK_FRAMES = 16384;

/** Lays a take on the session's time line as a float stem, and measures its peak while it is written. */
export async function stem(request: StemRequest, control: TaskControl): Promise<StemResult> {
  const stop = signalOver(control.cancel);
  const placed = openLaid(request.sound);
  try {
    return await writeWhole(
      request.target,
      async (path) => {
        const writer = new WaveFileWriter(path, {
          format: 'float32',
          channels: 1,
          rateHz: SESSION_RATE_HZ,
          bext: { timeReferenceFrames: 0, description: request.description, originator: 'Partsong' },
        });
        const meter = new TruePeakMeter(1);
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
        const { truePeakDbtp } = meter.result();
        writer.finish({ truePeakDbtp });
        return { truePeakDbtp };
      },
      stop.signal,
    );
  } finally {
    stop.release();
    placed.close();
  }
}
