import type { PlaceOdds } from './jump-odds.ts';

/** A jump that no break of the wave names. */
export interface UnbrokenJump {
  /** Session times between which it lies, s. */
  readonly fromSec: number;
  readonly toSec: number;
  readonly likely: number;
  /** By how much what comes after lies off, and its standard deviation, s. */
  readonly offSec: number;
  readonly offErrorSec: number;
}

/**
 * From this probability on notes alone make a jump sure. Without jumps 0.11 at most was measured, all places together (186 takes of sampled
 * notes); notes that have nothing to do with the guide's have made more than 0.5.
 */
const SURE = 0.8;
const SURE_SIZE = 0.35;
/** Places farther from the likeliest, s, are those of another jump. */
const ABOUT_SEC = 3;
/** Places less likely than this share of the likeliest are not reckoned in. */
const POSSIBLE = 0.2;

/**
 * The jump that notes alone make sure, if any: all that lie about the likeliest place taken together. In a rest or between two notes nothing of
 * the wave need break, and nothing is lost there if it was the player who changed: the notes come to lie where the others are.
 */
export function jumpByNotes(odds: readonly PlaceOdds[]): UnbrokenJump | undefined {
  const places = odds.filter((one) => one.wave === undefined && one.side === 'after');
  const everySec = places.length < 2 ? 0 : places[1]!.atSec - places[0]!.atSec;
  const top = places.reduce<PlaceOdds | undefined>(
    (best, one) => (one.likely > (best?.likely ?? 0) ? one : best),
    undefined,
  );
  if (top === undefined) return undefined;
  const about = places.filter((one) => Math.abs(one.atSec - top.atSec) <= Math.max(ABOUT_SEC, everySec));
  const likely = about.reduce((sum, one) => sum + one.likely, 0);
  if (likely < SURE) return undefined;
  const mean = (of: (one: PlaceOdds) => number): number =>
    about.reduce((sum, one) => sum + one.likely * of(one), 0) / likely;
  const offSec = mean((one) => one.offSec);
  const offErrorSec = Math.sqrt(mean((one) => one.offErrorSec ** 2 + (one.offSec - offSec) ** 2));
  if (offErrorSec > SURE_SIZE * Math.abs(offSec)) return undefined;
  const possible = about.filter((one) => one.likely >= POSSIBLE * top.likely);
  const fromSec = Math.min(...possible.map((one) => one.atSec)) - 0.5 * everySec;
  const toSec = Math.max(...possible.map((one) => one.atSec)) + 0.5 * everySec;
  return { fromSec, toSec, likely, offSec, offErrorSec };
}
