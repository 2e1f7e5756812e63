import type { Clock } from '../signal/clock.ts';
import type { Sound } from '../signal/sound.ts';
import type { GuidePrint } from './bleed.ts';
import { type BleedPath, followBleed } from './bleed-path.ts';
import { type ClockFit, fitClock } from './clock-fit.ts';
import { placeJump } from './jump-place.ts';
import { clockOfLines, type Line, takeSecOn } from './line.ts';
import type { TrailPoint } from './witness.ts';

/** The guide's leakage followed along a take. */
export interface FollowedBleed {
  readonly fit: ClockFit;
  /** Its clock, bends in their places; without bends where it runs evenly. */
  readonly clock: Clock;
  /** How far each bend may lie from its place, s of the take. */
  readonly bendsWithinSec: readonly number[];
  readonly trail: readonly TrailPoint[];
}

/** Follows the guide's leakage along a take and fits its clock; undefined where it does not carry through the take. */
export function followClockByBleed(print: GuidePrint, take: Sound, line: Line): FollowedBleed | undefined {
  const path = followBleed(print, take, line);
  if (path === undefined || path.points.length < 2) return undefined;
  const { points, fit } = fitTwice(path);
  const places = fit.bends.map((bend, n) => {
    const lines = [fit.lines[n]!, fit.lines[n + 1]!] as const;
    if (bend.stepSec !== 0) return placeJump(print, take, lines, bend.afterSec, bend.beforeSec);
    const atSec = 0.5 * (bend.afterSec + bend.beforeSec);
    return { takeSec: takeSecOn(lines[0], atSec), withinSec: 0.5 * (bend.beforeSec - bend.afterSec) };
  });
  const trail = points.map(
    ({ atSec, takeSec, errorSec }, i): TrailPoint => ({
      kind: 'bleed',
      atSec,
      takeSec,
      uncertaintySec: errorSec,
      accepted: fit.accepted[i]!,
    }),
  );
  return {
    fit,
    clock: clockOfLines(
      fit.lines,
      places.map((place) => place.takeSec),
    ),
    bendsWithinSec: places.map((place) => place.withinSec),
    trail,
  };
}

/** Points on a lobe beside the peak come back to it once the clock is known. */
function fitTwice(path: BleedPath): { points: BleedPath['points']; fit: ClockFit } {
  const first = fitClock(path.points, path.jumps);
  const points = path.near((sessionSec) => {
    const n = first.bends.filter((bend) => sessionSec > 0.5 * (bend.afterSec + bend.beforeSec)).length;
    return takeSecOn(first.lines[n]!, sessionSec);
  });
  return { points, fit: fitClock(points, path.jumps) };
}
