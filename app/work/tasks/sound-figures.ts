import { CheckMeter } from '../../../core/guide/check-meter.ts';
import { checkSound } from '../../../core/guide/check-sound.ts';
import type { SoundCheck } from '../../../core/guide/sound-check.ts';
import { isLoudnessRate } from '../../../core/loudness/k-weighting.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { Sound } from '../../../core/signal/sound.ts';
import type { TaskControl } from '../control.ts';
import { type CutSpot, CutSpots } from '../cut-spots.ts';
import { openSound } from '../sound-file.ts';
import { storedTrace } from '../trace-store.ts';
import type { CheckTakeRequest } from './check-take.ts';
import { keptLoudness, type TakeLoudness } from './measure-take.ts';

export type SoundFiguresRequest = Omit<CheckTakeRequest, 'guideKnocksSec'>;

/** What judging a take needs to know of its sound. Plain JSON. */
export interface SoundFigures {
  /** null at a rate at which loudness is not measured as it is. */
  readonly loudness: TakeLoudness | null;
  readonly check: SoundCheck['figures'];
  /** Where the tops of waves were cut off. */
  readonly clipped: readonly CutSpot[];
}

const BLOCK_FRAMES = 16384;

/** Reads a take once for its loudness, its noise, its clap and where it is clipped. */
export async function soundFigures(request: SoundFiguresRequest, control: TaskControl): Promise<SoundFigures> {
  const { study, heard, fold, rateHz } = request;
  const sound = openSound(request.soundPath, rateHz);
  try {
    const meter = new CheckMeter(sound.rateHz, isLoudnessRate(sound.rateHz));
    const spots = study.clip === null ? undefined : new CutSpots(study.clip.threshold);
    await readThrough(sound, control, (samples) => {
      meter.add(samples);
      spots?.add(samples);
    });
    const { figures } = checkSound(sound, {
      study,
      curves: meter.result(),
      ...(heard == null ? {} : { levels: storedTrace(heard.tracePath, heard.trace).levels() }),
      fold,
      guideKnocksSec: [],
      cancel: control.cancel,
    });
    const loudness = meter.loudness();
    return {
      loudness: loudness === undefined ? null : keptLoudness(loudness.integratedLufs, loudness.momentaryLufs),
      check: figures,
      clipped: spots?.result(sound.rateHz) ?? [],
    };
  } finally {
    sound.close();
  }
}

async function readThrough(sound: Sound, control: TaskControl, use: (samples: Float32Array) => void): Promise<void> {
  const { lengthFrames } = sound;
  const buffer = new Float32Array(BLOCK_FRAMES);
  for (let from = 0; from < lengthFrames; from += BLOCK_FRAMES) {
    throwIfCancelled(control.cancel);
    const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, lengthFrames - from));
    sound.read(from, samples);
    use(samples);
    control.onProgress((0.9 * from) / lengthFrames);
    await control.breathe();
  }
}
