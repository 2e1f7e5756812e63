import type { ExpectedNote } from './expected-note.ts';
import { medianOf } from './pitch-span.ts';

/** A stretch of the score that was not played, as a repeat that is left out: times of the score, s. */
export interface Skip {
  readonly fromSec: number;
  readonly toSec: number;
}

/** So many notes one after the other, at the least, make a stretch that was passed over; fewer are notes that were left out. */
const FEWEST_NOTES = 6;
/** Where the player took less than this share of the time that is written, he did not rest. */
const MOST_TIME = 0.4;

/** A time of the score, without what was passed over before it. */
export function withoutSkips(skips: readonly Skip[], sec: number): number {
  return skips.reduce((left, { fromSec, toSec }) => left - Math.max(0, Math.min(sec, toSec) - fromSec), sec);
}

export function isSkipped(skips: readonly Skip[], { atSec }: ExpectedNote): boolean {
  return skips.some(({ fromSec, toSec }) => atSec >= fromSec && atSec < toSec);
}

/**
 * Stretches of the score that were passed over: rows of notes that nothing was heard of, over which the player went on at once. heardOf:
 * for each note of the score what was matched by pitch alone, or null.
 */
export function skipsOf(
  heard: readonly { readonly fromSec: number }[],
  expected: readonly ExpectedNote[],
  heardOf: readonly (number | null)[],
): Skip[] {
  const known = heardOf.flatMap((index, at) => (index === null ? [] : [{ at, heardSec: heard[index]!.fromSec }]));
  const ways = known.slice(1).map((next, n) => {
    const before = known[n]!;
    const writtenSec = expected[next.at]!.atSec - expected[before.at]!.atSec;
    return { before, next, writtenSec, heardSec: next.heardSec - before.heardSec };
  });
  const stretch = medianOf(ways.filter(({ writtenSec }) => writtenSec > 0).map((way) => way.heardSec / way.writtenSec));
  return ways.flatMap(({ before, next, writtenSec, heardSec }): Skip[] => {
    if (next.at - before.at <= FEWEST_NOTES || heardSec > MOST_TIME * stretch * writtenSec) return [];
    // What was played of that time is what followed the note before.
    const toSec = expected[next.at]!.atSec;
    return [{ fromSec: Math.min(toSec, expected[before.at]!.atSec + heardSec / stretch), toSec }];
  });
}
