import { rmSync } from 'node:fs';
import { TriangularDither } from '../../../core/mix/dither.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import type { WrittenFormat } from '../../../core/wave/format.ts';
import { writeWhole } from '../../media/whole-file.ts';
import type { TaskControl } from '../control.ts';
import { type MixPasses, type MixRequest, searchMaster } from '../mix-passes.ts';
import { signalOver } from '../stop-signal.ts';
import { WaveFileWriter } from '../wave-file.ts';

export interface MixdownRequest extends MixRequest {
  readonly target: string;
  /** Of the samples written; 24 bit when absent. 16 bit is dithered. */
  readonly format?: WrittenFormat;
}

export interface MixdownResult {
  readonly integratedLufs: number;
  readonly truePeakDbtp: number;
  readonly rangeLu: number;
  readonly lengthFrames: number;
  readonly limiterMaxDb: number;
  /** Part of the time at which the limiter worked, 0 to 1. */
  readonly limiterShare: number;
  readonly masterGainDb: number;
  /** What the limiter was set to, dBTP: at or a little under the ceiling. */
  readonly masterCeilingDbtp: number;
  readonly passes: number;
  /** Short-term loudness each 0.5 s, LUFS. */
  readonly shortTermLufs: readonly number[];
  readonly notes: readonly string[];
}

/** Any will do; the same each time, so that the same mix is the same file. */
const DITHER_SEED = 1;

/** Sums the voices, finds the gain that meets target and ceiling together, and writes the mix. */
export async function mixdown(request: MixdownRequest, control: TaskControl): Promise<MixdownResult> {
  const stop = signalOver(control.cancel);
  const format = request.format ?? 'pcm24';
  try {
    return await writeWhole(
      request.target,
      async (path) =>
        mixResult(
          searchMaster(request, control, () => {
            const dither = format === 'pcm16' ? new TriangularDither(DITHER_SEED) : undefined;
            return new WaveFileWriter(path, { format, channels: 2, rateHz: SESSION_RATE_HZ }, dither);
          }),
        ),
      stop.signal,
    );
  } finally {
    stop.release();
    rmSync(request.busPath, { force: true });
  }
}

/** The search for the gain of a mix, without writing it. */
export async function findMaster(request: MixRequest, control: TaskControl): Promise<MixdownResult> {
  try {
    return mixResult(searchMaster(request, control, () => undefined));
  } finally {
    rmSync(request.busPath, { force: true });
  }
}

function mixResult({ made, step, passes }: MixPasses): MixdownResult {
  const { loudness, limiter } = made;
  return {
    integratedLufs: loudness.integratedLufs,
    truePeakDbtp: loudness.truePeakDbtp,
    rangeLu: loudness.rangeLu,
    lengthFrames: loudness.lengthFrames,
    limiterMaxDb: limiter.mostDb,
    limiterShare: limiter.share,
    masterGainDb: step.chosen.gainDb,
    masterCeilingDbtp: step.chosen.ceilingDbtp,
    passes,
    shortTermLufs: (loudness.curves?.shortTermLufs ?? []).filter((_, n) => n % 5 === 4),
    notes: step.notes,
  };
}
