import { type Clock, takeSecOf } from '../signal/clock.ts';
import type { Sound } from '../signal/sound.ts';
import type { GuidePrint } from './bleed.ts';
import { type BleedPath, followBleed } from './bleed-path.ts';
import { type JumpDoubt, jumpDoubts, type Mark } from './clock-doubt.ts';
import { type ClockFit, fitClock } from './clock-fit.ts';
import { placeJump } from './jump-place.ts';
import { clockOfLines, type Line, takeSecOn } from './line.ts';
import type { Music } from './music-match.ts';
import type { Lateness } from './step-test.ts';
import type { Testimony, TrailPoint } from './witness.ts';

/** The guide's leakage followed along a take. */
export interface FollowedBleed {
  readonly fit: ClockFit;
  /** Its clock, bends in their places; without bends where it runs evenly. */
  readonly clock: Clock;
  /** How far each bend may lie from its place, s of the take. */
  readonly bendsWithinSec: readonly number[];
  readonly trail: readonly TrailPoint[];
  /** Session times between which it is not heard where it should be, s: the take may jump there. */
  readonly missing?: { readonly fromSec: number; readonly toSec: number };
}

/** What the leakage says along a take. */
export interface AlongBleed {
  /** Undefined where it is too faint to be followed. */
  readonly followed: FollowedBleed | undefined;
  /** Where the clock may jump although no jump was found. */
  readonly doubts: readonly JumpDoubt[];
}

/** More stretches make what is leakage higher by the root of their number, and what is not hardly; of so many more it is asked. */
const MORE = 1.4;

/**
 * Follows the guide's leakage along a take and fits its clock; 'chance' where more stretches of the guide show that it is none. found: on how many stretches it was found, and how high. music, claps:
 * what is said beside it.
 */
export function followClockByBleed(
  print: GuidePrint,
  take: Sound,
  line: Line,
  found: { readonly stretches: number; readonly height: number },
  music: Music | undefined,
  claps: readonly Testimony[],
): AlongBleed | 'chance' {
  const { stretches, height, path, missing, heldAgainst } = followBleed(print, take, line);
  const jumps = path !== undefined && path.jumps.length > 0;
  if (!jumps && stretches > MORE * found.stretches && height < found.height) return 'chance';
  const doubtsOf = (shown: (sessionSec: number) => number): JumpDoubt[] =>
    jumpDoubts(heldAgainst(shown), latenessAgainst(shown, music), marksAgainst(shown, claps));
  if (path === undefined || path.points.length < 2) {
    return { followed: undefined, doubts: doubtsOf((sessionSec) => takeSecOn(line, sessionSec)) };
  }
  const { points, fit } = fitTwice(path);
  const places = fit.bends.map((bend, n) => {
    const lines = [fit.lines[n]!, fit.lines[n + 1]!] as const;
    if (bend.stepSec !== 0) return placeJump(print, take, lines, bend.afterSec, bend.beforeSec);
    const atSec = 0.5 * (bend.afterSec + bend.beforeSec);
    return { takeSec: takeSecOn(lines[0], atSec), withinSec: 0.5 * (bend.beforeSec - bend.afterSec) };
  });
  // Two bends close together may each be drawn to the same break: in doubt each stays between its own points.
  const rises = places.every((place, n) => n === 0 || place.takeSec > places[n - 1]!.takeSec);
  const cuts = places.map((place, n) => {
    const { afterSec, beforeSec } = fit.bends[n]!;
    return rises ? place.takeSec : takeSecOn(fit.lines[n]!, 0.5 * (afterSec + beforeSec));
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
  const clock = clockOfLines(fit.lines, cuts);
  const followed = {
    fit,
    clock,
    bendsWithinSec: places.map((place) => place.withinSec),
    trail,
    ...(missing === undefined ? {} : { missing }),
  };
  return { followed, doubts: doubtsOf((sessionSec) => takeSecOf(clock, sessionSec)) };
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

/** Lateness of the notes against a clock; none where they were not matched as notes. */
function latenessAgainst(shown: (sessionSec: number) => number, music: Music | undefined): Lateness[] {
  if (music === undefined || !music.byNotes) return [];
  const { lateness, evenLeadSec } = music;
  return lateness.map((one) => ({ ...one, laterSec: one.laterSec + evenLeadSec + one.atSec - shown(one.atSec) }));
}

function marksAgainst(shown: (sessionSec: number) => number, claps: readonly Testimony[]): Mark[] {
  return claps.map(({ atSec, takeSec, uncertaintySec }) => {
    return { atSec, laterSec: takeSec - shown(atSec), errorSec: uncertaintySec };
  });
}
