import { PlacedSound } from '../../core/signal/placed-sound.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { type OpenSound, openSound } from './sound-file.ts';

/** Where a take's sound lies on the disk and on the session's time line. Plain data. */
export interface LaidSound {
  readonly soundPath: string;
  readonly rateHz: number;
  /** null: the file is on the session's time line already, at its rate. */
  readonly place: { readonly offsetSec: number; readonly driftPpm: number } | null;
}

/**
 * Opens a sound on the session's time line. The samples of any stretch are those the stem of the whole has, to the bit: so
 * nothing needs to be laid out on the disk before it is played or mixed.
 */
export function openLaid(laid: LaidSound): OpenSound {
  const sound = openSound(laid.soundPath, laid.place === null ? SESSION_RATE_HZ : laid.rateHz);
  if (laid.place === null) return sound;
  try {
    const placed = new PlacedSound(sound, { ...laid.place, sessionRateHz: SESSION_RATE_HZ });
    return {
      rateHz: placed.rateHz,
      lengthFrames: placed.lengthFrames,
      read: (fromFrame, target) => placed.read(fromFrame, target),
      close: () => sound.close(),
    };
  } catch (error) {
    sound.close();
    throw error;
  }
}
