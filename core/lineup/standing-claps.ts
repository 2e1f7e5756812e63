import type { ClapSound } from './clap.ts';

/** A clap with its standing: how like a clap it is, and whether it is the last such sound before the music. */
export interface StandingClap extends ClapSound {
  readonly standing: number;
}

/** Moving about comes before the clap; after it the player waits for the count-in. Any other sharp sound counts less. */
const NOT_LAST = 0.4;
/** Sounds less like a clap than this are not considered. */
const LEAST_LIKENESS = 0.35;
/** A sound this like a clap can be the one the music waits for. */
const LIKELY = 0.5;
const MOST_CLAPS = 8;

/**
 * The sounds of a take that may be its clap, by standing, best first, at most eight. sounds: as found, in order of time;
 * musicSec: where the music begins, as musicStart tells.
 */
export function standingClaps(sounds: readonly ClapSound[], musicSec: number | undefined): StandingClap[] {
  const claps = sounds.filter((clap) => clap.likeness >= LEAST_LIKENESS);
  const before = claps.filter((clap) => musicSec === undefined || clap.atSec < musicSec - 0.1);
  const last = before.filter((clap) => clap.likeness > LIKELY).at(-1) ?? before.at(-1);
  return claps
    .map((clap) => ({ ...clap, standing: clap.likeness * (clap === last ? 1 : NOT_LAST) }))
    .sort((a, b) => b.standing - a.standing)
    .slice(0, MOST_CLAPS);
}
