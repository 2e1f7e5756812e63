import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { Sound } from '../../../core/signal/sound.ts';
import { type SpectrogramPlan, spectrogram } from '../../../core/signal/spectrogram.ts';
import type { TaskControl } from '../control.ts';
import { type OpenSound, openSound } from '../sound-file.ts';

export interface DrawSpectrogramRequest extends SpectrogramPlan {
  readonly soundPath: string;
  /** A sound that is taken off it; null for none. */
  readonly lessPath: string | null;
  readonly rateHz: number;
}

/** A spectrogram as core/signal/spectrogram.ts makes it. */
export async function drawSpectrogram(
  request: DrawSpectrogramRequest,
  control: TaskControl,
): Promise<Uint8Array<ArrayBuffer>> {
  const sound = openSound(request.soundPath, request.rateHz);
  let less: OpenSound | undefined;
  try {
    less = request.lessPath === null ? undefined : openSound(request.lessPath, request.rateHz);
    return spectrogram(less === undefined ? sound : difference(sound, less), request, (share) => {
      throwIfCancelled(control.cancel);
      control.onProgress(share);
    });
  } finally {
    sound.close();
    less?.close();
  }
}

/** One sound less another. */
function difference(sound: Sound, less: Sound): Sound {
  let other = new Float32Array(0);
  return {
    rateHz: sound.rateHz,
    lengthFrames: sound.lengthFrames,
    read(fromFrame, target) {
      if (other.length !== target.length) other = new Float32Array(target.length);
      sound.read(fromFrame, target);
      less.read(fromFrame, other);
      for (let n = 0; n < target.length; n++) target[n]! -= other[n]!;
    },
  };
}
