import { figuresOfSound } from '../../../core/guide/check-sound.ts';
import type { CheckFigures } from '../../../core/guide/sound-check.ts';
import { TakeMeter } from '../../../core/guide/take-meter.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { Sound } from '../../../core/signal/sound.ts';
import type { TaskControl } from '../control.ts';
import { type CutSpot, CutSpots } from '../cut-spots.ts';
import { openSound } from '../sound-file.ts';
import { storedTrace } from '../trace-store.ts';
import type { CheckTakeRequest } from './check-take.ts';
import { keptLoudness, type TakeLoudness } from './measure-take.ts';

export type SoundFiguresRequest = Omit<CheckTakeRequest, 'guideKnocksSec' | 'fold'>;

/** What judging a take needs to know of its sound. Plain JSON. */
export interface SoundFigures {
  /** null at a rate at which loudness is not measured as it is. */
  readonly loudness: TakeLoudness | null;
  readonly check: CheckFigures;
  /** Where the tops of waves were cut off. */
  readonly clipped: readonly CutSpot[];
}

/** Reads a take once for its loudness, its noise, its clap and where it is clipped. */
export async function soundFigures(request: SoundFiguresRequest, control: TaskControl): Promise<SoundFigures> {
  const { study, heard, rateHz } = request;
  const sound = openSound(request.soundPath, rateHz);
  try {
    const meter = new TakeMeter(sound.rateHz);
    const spots = study.clip === null ? undefined : new CutSpots(study.clip.threshold);
    await readThrough(sound, meter, spots, study.clip?.threshold ?? 0, control);
    const check = figuresOfSound(sound, meter.curves(), {
      study,
      ...(heard == null ? {} : { levels: storedTrace(heard.tracePath, heard.trace).levels() }),
      cancel: control.cancel,
    });
    const loudness = meter.loudness();
    return {
      loudness: loudness === undefined ? null : keptLoudness(loudness.integratedLufs, loudness.momentaryLufs),
      check,
      clipped: spots?.result(sound.rateHz) ?? [],
    };
  } finally {
    sound.close();
  }
}

/** Straight into the meter's own room; samples are looked at one by one only where one of them is cut off. */
async function readThrough(
  sound: Sound,
  meter: TakeMeter,
  spots: CutSpots | undefined,
  threshold: number,
  control: TaskControl,
): Promise<void> {
  const { lengthFrames } = sound;
  const { room } = meter;
  for (let from = 0; from < lengthFrames; from += room.length) {
    throwIfCancelled(control.cancel);
    const samples = room.subarray(0, Math.min(room.length, lengthFrames - from));
    sound.read(from, samples);
    const greatest = meter.add(samples.length);
    if (greatest >= threshold) spots?.add(samples);
    else spots?.pass(samples.length);
    control.onProgress((0.9 * from) / lengthFrames);
    await control.breathe();
  }
}
