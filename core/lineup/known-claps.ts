import type { ClapSound } from './clap.ts';
import type { GuideMarks } from './guide-map.ts';
import type { StandingClap } from './standing-claps.ts';

/** Two claps by hand are as far apart as their cues to within this, s: five times their scatter of 12 ms each. */
const PAIR_REACH_SEC = 0.085;
/** What clocks that run apart add to that, s a second. */
const PAIR_DRIFT = 1e-4;
const LEAST_LIKENESS = 0.45;
/** Where music begins is seen to about this, s. */
const START_REACH_SEC = 0.6;
/** A clap that is not where the music's beginning asks for it counts this much less. */
const ELSEWHERE = 0.15;

/** The two claps of a take that are as far apart as the guide's two cues. */
export interface ClapPair {
  readonly first: ClapSound;
  readonly last: ClapSound;
  /** How like claps both are, 0 to 1, less what another such pair takes away. */
  readonly sureness: number;
}

/** The pair of sharp sounds that answers the first and the last cue; undefined where there is none. */
export function clapPair(sounds: readonly ClapSound[], marks: GuideMarks): ClapPair | undefined {
  const [from] = marks.clapsSec;
  const to = marks.clapsSec.at(-1);
  if (from === undefined || to === undefined || to === from) return undefined;
  const likely = sounds.filter((sound) => sound.likeness >= LEAST_LIKENESS);
  const apartSec = to - from;
  const reachSec = PAIR_REACH_SEC + PAIR_DRIFT * apartSec;
  const pairs = likely.flatMap((first) =>
    likely
      .filter((last) => Math.abs(last.atSec - first.atSec - apartSec) < reachSec)
      .map((last) => ({ first, last, score: Math.sqrt(first.likeness * last.likeness) })),
  );
  pairs.sort((a, b) => b.score - a.score);
  const [best] = pairs;
  if (best === undefined) return undefined;
  const rival = pairs.find((pair) => Math.abs(pair.first.atSec - best.first.atSec) > 0.1);
  return { ...best, sureness: best.score * (best.score / (best.score + 1.5 * (rival?.score ?? 0))) };
}

/**
 * Claps by standing where the guide tells how long before the music the clap belongs: that, and not to be the last sharp
 * sound, makes a clap then. As they were where none lies there, as of a voice that comes in late.
 */
export function standingBeforeMusic(
  standing: readonly StandingClap[],
  musicSec: number | undefined,
  marks: GuideMarks,
): readonly StandingClap[] {
  const [clapSec] = marks.clapsSec;
  if (clapSec === undefined || musicSec === undefined) return standing;
  const expectedSec = musicSec - (marks.music.fromSec - clapSec);
  const isThere = (clap: StandingClap): boolean => Math.abs(clap.atSec - expectedSec) < START_REACH_SEC;
  if (!standing.some(isThere)) return standing;
  return standing
    .map((clap) => ({ ...clap, standing: clap.likeness * (isThere(clap) ? 1 : ELSEWHERE) }))
    .sort((a, b) => b.standing - a.standing);
}
