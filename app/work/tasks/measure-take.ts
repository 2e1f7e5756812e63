import { TakeMeter } from '../../../core/guide/take-meter.ts';
import { isLoudnessRate } from '../../../core/loudness/k-weighting.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import type { TaskControl } from '../control.ts';
import { openLaid } from '../laid-sound.ts';
import { openSound } from '../sound-file.ts';

export interface MeasureTakeRequest {
  readonly soundPath: string;
  readonly rateHz: number;
}

/** Loudness of a take over its own time. Plain JSON. */
export interface TakeLoudness {
  /** null for silence. */
  readonly integratedLufs: number | null;
  /** Momentary loudness each 0.1 s, LUFS, to 0.01; NO_SOUND_LUFS stands for silence. */
  readonly momentaryLufs: readonly number[];
}

/** JSON knows no -Infinity. */
export const NO_SOUND_LUFS = -200;

/** Measures a take in its own time, so that moving it on the time line measures nothing anew. */
export async function measureTake(request: MeasureTakeRequest, control: TaskControl): Promise<TakeLoudness> {
  const { soundPath, rateHz } = request;
  const isOwn = isLoudnessRate(rateHz);
  const sound = isOwn
    ? openSound(soundPath, rateHz)
    : openLaid({ soundPath, rateHz, place: { offsetSec: 0, driftPpm: 0 } });
  try {
    const { lengthFrames } = sound;
    const meter = new TakeMeter(isOwn ? rateHz : SESSION_RATE_HZ);
    const { room } = meter;
    for (let from = 0; from < lengthFrames; from += room.length) {
      throwIfCancelled(control.cancel);
      const samples = room.subarray(0, Math.min(room.length, lengthFrames - from));
      sound.read(from, samples);
      meter.add(samples.length);
      control.onProgress(from / lengthFrames);
      await control.breathe();
    }
    const { integratedLufs, momentaryLufs } = meter.loudness()!;
    return keptLoudness(integratedLufs, momentaryLufs);
  } finally {
    sound.close();
  }
}

/** As it is kept in JSON. */
export function keptLoudness(integratedLufs: number, momentaryLufs: readonly number[]): TakeLoudness {
  return {
    integratedLufs: Number.isFinite(integratedLufs) ? integratedLufs : null,
    momentaryLufs: momentaryLufs.map(kept),
  };
}

function kept(lufs: number): number {
  return Math.round(Math.max(NO_SOUND_LUFS, lufs) * 100) / 100;
}
