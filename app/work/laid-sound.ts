import { type ComposedJoin, ComposedSound } from '../../core/mix/composed-sound.ts';
import type { Clock } from '../../core/signal/clock.ts';
import { PlacedSound } from '../../core/signal/placed-sound.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { type OpenSound, openSound } from './sound-file.ts';

/** Where a take's sound lies on the disk and on the session's time line. Plain data. */
export interface LaidTake {
  readonly soundPath: string;
  readonly rateHz: number;
  /** null: the file is on the session's time line already, at its rate. */
  readonly place: Clock | null;
}

/** A voice made of passages: one take after another. Plain data. */
export interface LaidPassages {
  readonly parts: readonly { readonly sound: LaidTake; readonly gainDb: number }[];
  readonly joins: readonly ComposedJoin[];
}

/** What a voice sounds with. */
export type LaidSound = LaidTake | LaidPassages;

/**
 * Opens a sound on the session's time line. The samples of any stretch are those the stem of the whole has, to the bit: so
 * nothing needs to be laid out on the disk before it is played or mixed.
 */
export function openLaid(laid: LaidSound): OpenSound {
  return 'parts' in laid ? openPassages(laid) : openTake(laid);
}

function openTake(laid: LaidTake): OpenSound {
  const sound = openSound(laid.soundPath, laid.place === null ? SESSION_RATE_HZ : laid.rateHz);
  if (laid.place === null) return sound;
  return closing([sound], () => new PlacedSound(sound, { ...laid.place!, sessionRateHz: SESSION_RATE_HZ }));
}

function openPassages({ parts, joins }: LaidPassages): OpenSound {
  const open: OpenSound[] = [];
  return closing(open, () => {
    // A take that comes again is opened once.
    const opened = new Map<string, OpenSound>();
    const composed = parts.map(({ sound, gainDb }) => {
      const name = JSON.stringify(sound);
      let take = opened.get(name);
      if (take === undefined) {
        take = openTake(sound);
        opened.set(name, take);
        open.push(take);
      }
      return { sound: take, gainDb };
    });
    return new ComposedSound(composed, joins);
  });
}

/** A sound made over open ones, which are closed with it, and when it cannot be made. */
function closing(
  open: readonly OpenSound[],
  make: () => { rateHz: number; lengthFrames: number; read(fromFrame: number, target: Float32Array): void },
): OpenSound {
  const close = (): void => {
    for (const sound of open) sound.close();
  };
  try {
    const made = make();
    return {
      rateHz: made.rateHz,
      lengthFrames: made.lengthFrames,
      read: (fromFrame, target) => made.read(fromFrame, target),
      close,
    };
  } catch (error) {
    close();
    throw error;
  }
}
