import type { Box } from './canvas.ts';

/**
 * What a tile does for a while: 'large', the others make room for it; 'away', it is not seen; 'box', it lies elsewhere,
 * over the others.
 */
export const MOMENT_KINDS = ['large', 'away', 'box'] as const;
export type MomentKind = (typeof MOMENT_KINDS)[number];

/** A stretch of session time in which a tile is not as it is otherwise. */
export interface TileMoment {
  readonly fromSec: number;
  readonly toSec: number;
  readonly as: MomentKind;
  /** For 'box': where it lies, px; even. */
  readonly box?: Box;
  /** It goes over softly, within CHANGE_SEC; else at once. */
  readonly soft: boolean;
}

/** Tiles grow and shrink within this, s: slow enough to be followed, short enough for an entry. */
export const CHANGE_SEC = 0.5;
/** Tiles come and go within this, s. */
export const COMING_SEC = 0.3;
/** WCAG 2.2, success criterion 2.3.1: nothing flashes more than three times in any second; each change may be one. */
export const MOST_CHANGES_A_SECOND = 3;
/** Changes this near to one another are seen as one, s. */
const AT_ONCE_SEC = 0.02;

/** What a tile does over time. */
export interface TimedTile {
  readonly shown?: boolean;
  readonly span?: { readonly fromSec: number; readonly toSec: number };
  readonly moments?: readonly TileMoment[];
}

/** The moments of all tiles that a canvas shows, by their beginnings and ends, s; in order, those at once as one. */
export function changeTimes(tiles: readonly TimedTile[]): number[] {
  const times = tiles
    .filter(({ shown }) => shown !== false)
    .flatMap(({ span, moments = [] }) => [...(span === undefined ? [] : [span]), ...moments])
    .flatMap(({ fromSec, toSec }) => [fromSec, toSec])
    .sort((one, other) => one - other);
  return times.filter((time, index) => index === 0 || time - times[index - 1]! > AT_ONCE_SEC);
}

/** Where a canvas would change more than three times within a second, session time, s; undefined where it never does. */
export function tooManyChangesAt(tiles: readonly TimedTile[]): number | undefined {
  const times = changeTimes(tiles);
  return times.find((time, index) => (times[index + MOST_CHANGES_A_SECOND] ?? Number.POSITIVE_INFINITY) - time < 1);
}
