import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { Sound } from '../signal/sound.ts';
import { mapGuide } from './guide-map.ts';
import { listenTo, type Trace } from './trace.ts';
import { placeWithGuide } from './with-guide.ts';
import { placeWithoutGuide } from './without-guide.ts';
import type { Placement } from './witness.ts';

/** A take to be placed: its raw sound, mono, any rate, time zero being the clip's time zero. */
export interface TakeToPlace {
  readonly id: string;
  readonly sound: Sound;
  /** Its trace, when it was listened to before (a TakeListener fed while decoding). */
  readonly trace?: Trace;
}

export interface LineupOptions {
  readonly cancel?: Cancel;
  /** Called with the share done, 0 to 1. */
  readonly onProgress?: (share: number) => void;
}

/**
 * Places takes on the session's time line.
 *
 * With a guide session time zero is the guide's first sample, and every take is placed by itself: its notes against
 * the guide's find the place, the clap near the guide's cue and the guide's leakage from the headphones make it exact.
 * Without one, takes are placed against one another by claps and common note beginnings, and session time zero is
 * where the earliest placed take begins. Every placement carries its evidence; what cannot be known is a question.
 *
 * Reads each sound once from beginning to end and then some 50 s of it again. Memory: 5 kB a second of each take, 35 kB
 * a second of the guide.
 */
export function placeTakes(
  takes: readonly TakeToPlace[],
  guide?: Sound,
  options: LineupOptions = {},
): Map<string, Placement> {
  const { cancel, onProgress } = options;
  const ids = new Set(takes.map((take) => take.id));
  if (ids.size !== takes.length) throw new RangeError('takes hold the same id twice; allowed once each');
  const heard = (take: TakeToPlace): Trace => take.trace ?? listenTo(take.sound, cancel);
  let done = 0;
  const advance = (): void => onProgress?.(++done / (takes.length + 1));
  if (guide === undefined) {
    const all = takes.map((take) => {
      const one = { id: take.id, sound: take.sound, trace: heard(take) };
      advance();
      return one;
    });
    throwIfCancelled(cancel);
    const placements = placeWithoutGuide(all);
    advance();
    return placements;
  }
  const map = mapGuide(guide, listenTo(guide, cancel));
  advance();
  const placements = new Map<string, Placement>();
  for (const take of takes) {
    throwIfCancelled(cancel);
    placements.set(take.id, placeWithGuide(take.sound, heard(take), map));
    advance();
  }
  return placements;
}
