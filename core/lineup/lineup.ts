import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { Sound } from '../signal/sound.ts';
import { type GuideMarks, mapGuide } from './guide-map.ts';
import { LagSearch } from './lag-search.ts';
import { listenTo } from './take-listener.ts';
import { sourceOf, type TraceSource } from './trace.ts';
import { placeWithGuide } from './with-guide.ts';
import { placeWithoutGuide } from './without-guide.ts';
import type { Placement } from './witness.ts';

/** A take to be placed: its raw sound, mono, any rate, time zero being the clip's time zero. */
export interface TakeToPlace {
  readonly id: string;
  readonly sound: Sound;
  /** Its trace, when it was listened to before (a TakeListener fed while decoding). */
  readonly trace?: TraceSource;
}

export interface LineupOptions {
  readonly cancel?: Cancel;
  /** Called with the share done, 0 to 1. */
  readonly onProgress?: (share: number) => void;
  /** The guide's trace, when it was listened to before. */
  readonly guideTrace?: TraceSource;
  /** What is known of the guide beforehand: where claps belong above all. */
  readonly guideMarks?: GuideMarks;
}

/**
 * Places takes on the session's time line.
 *
 * With a guide session time zero is the guide's first sample, and every take is placed by itself: its notes against
 * the guide's find the place, the clap near the guide's cue and the guide's leakage from the headphones make it exact.
 * Without one, takes are placed against one another by claps and common note beginnings, and session time zero is
 * where the earliest placed take begins. Every placement carries its evidence; what cannot be known is a question.
 *
 * Reads each sound once from beginning to end where it has no trace, and then some 50 s of it. Memory: 4 kB a second of
 * the take at hand, 0.5 kB a second of the guide or the take that serves as mark, some 30 bytes a second of every pair,
 * and 8 MB at most for the guide's sound; where a trace is not given, 5 kB a second of each take.
 */
export function placeTakes(
  takes: readonly TakeToPlace[],
  guide?: Sound,
  options: LineupOptions = {},
): Map<string, Placement> {
  const { cancel, onProgress } = options;
  const ids = new Set(takes.map((take) => take.id));
  if (ids.size !== takes.length) throw new RangeError('takes hold the same id twice; allowed once each');
  // What takes long reads sound all the time: there it can be stopped at any moment.
  const stoppable = (sound: Sound): Sound =>
    cancel === undefined
      ? sound
      : {
          rateHz: sound.rateHz,
          lengthFrames: sound.lengthFrames,
          read(fromFrame, target) {
            throwIfCancelled(cancel);
            sound.read(fromFrame, target);
          },
        };
  const heard = (take: TakeToPlace): TraceSource => take.trace ?? sourceOf(listenTo(take.sound, cancel));
  let done = 0;
  const advance = (): void => onProgress?.(++done / (takes.length + 1));
  const search = new LagSearch();
  if (guide === undefined) {
    const all = takes.map((take) => ({ id: take.id, sound: stoppable(take.sound), trace: heard(take) }));
    throwIfCancelled(cancel);
    advance();
    return placeWithoutGuide(all, search, advance);
  }
  const map = mapGuide(stoppable(guide), options.guideTrace ?? sourceOf(listenTo(guide, cancel)), options.guideMarks);
  advance();
  const placements = new Map<string, Placement>();
  for (const take of takes) {
    throwIfCancelled(cancel);
    placements.set(take.id, placeWithGuide(stoppable(take.sound), heard(take), map, search));
    advance();
  }
  return placements;
}
