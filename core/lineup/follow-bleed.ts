import { type Clock, takeSecOf } from '../signal/clock.ts';
import type { Sound } from '../signal/sound.ts';
import type { GuidePrint } from './bleed.ts';
import { type BleedPath, type FollowedPath, followBleed } from './bleed-path.ts';
import { doubtsOf, type JumpDoubt } from './clock-doubt.ts';
import { type ClockFit, type FittedBend, fitClock } from './clock-fit.ts';
import { HeldSums } from './held-sums.ts';
import { type JumpWitnesses, jumpOdds, type Mark, type PlaceOdds, sureJump } from './jump-odds.ts';
import { type JumpPlace, placeJump } from './jump-place.ts';
import { clockOfLines, type Line, sessionSecOn, takeSecOn } from './line.ts';
import type { Music } from './music-match.ts';
import { type Lateness, StepTest } from './step-test.ts';
import type { WaveBreaks } from './wave-breaks.ts';
import type { Testimony, TrailPoint } from './witness.ts';

/** The guide's leakage followed along a take. */
export interface FollowedBleed {
  readonly fit: ClockFit;
  /** Its clock, bends in their places; without bends where it runs evenly. */
  readonly clock: Clock;
  /** How far each bend may lie from its place, s of the take. */
  readonly bendsWithinSec: readonly number[];
  /** Whether the wave breaks at each of its jumps. */
  readonly isBroken: boolean;
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
const MOST_JUMPS = 4;
const BREAK_ERROR_SEC = 0.001;

/** A clock along the points of a path. */
interface Fitted {
  readonly points: BleedPath['points'];
  readonly fit: ClockFit;
  readonly clock: Clock;
  readonly places: readonly JumpPlace[];
}

/** What speaks of a take's clock beside the leakage. */
export interface BesideBleed {
  readonly music: Music | undefined;
  readonly claps: readonly Testimony[];
  /** Breaks of the take's wave, as far as anybody asked. */
  readonly waves: WaveBreaks;
}

/**
 * Follows the guide's leakage along a take and fits its clock; 'chance' where more stretches of the guide show that it is none.
 * found: on how many stretches it was found, and how high.
 *
 * Jumps that the leakage shows by itself are taken first; then, one by one, those that leakage, notes, claps and the wave make sure together.
 */
export function followClockByBleed(
  print: GuidePrint,
  take: Sound,
  line: Line,
  found: { readonly stretches: number; readonly height: number },
  beside: BesideBleed,
): AlongBleed | 'chance' {
  const followed = followBleed(print, take, line);
  const { stretches, height, path, missing } = followed;
  const first = path === undefined || path.points.length < 2 ? undefined : fitted(print, take, path, []);
  const { clock: told, doubts, isBent } = askAll(print, take, line, followed, first, beside);
  const jumps = isBent || (path !== undefined && path.jumps.length > 0);
  if (!jumps && stretches > MORE * found.stretches && height < found.height) return 'chance';
  if (told === undefined) return { followed: undefined, doubts };
  const { points, fit, clock, places } = told;
  const trail = points.map(
    ({ atSec, takeSec, errorSec }, i): TrailPoint => ({
      kind: 'bleed',
      atSec,
      takeSec,
      uncertaintySec: errorSec,
      accepted: fit.accepted[i]!,
    }),
  );
  const along = {
    fit,
    clock,
    bendsWithinSec: places.map((place) => place.withinSec),
    isBroken: fit.bends.every((bend, n) => bend.stepSec === 0 || places[n]!.isBreak),
    trail,
    ...(missing === undefined || isBent ? {} : { missing }),
  };
  return { followed: along, doubts };
}

/** Adds the jumps that all witnesses together make sure, and tells what doubt is left. */
function askAll(
  print: GuidePrint,
  take: Sound,
  line: Line,
  followed: FollowedPath,
  first: Fitted | undefined,
  beside: BesideBleed,
): { clock: Fitted | undefined; doubts: JumpDoubt[]; isBent: boolean } {
  const sure: SureJump[] = [];
  let fit = first;
  for (;;) {
    const shown = (sec: number): number => (fit === undefined ? takeSecOn(line, sec) : takeSecOf(fit.clock, sec));
    const odds = askOnce(followed, shown, line, beside, sure);
    const best = sure.length < MOST_JUMPS ? sureJump(odds) : undefined;
    const more = best && withJump(print, take, line, followed, fit, best, sure);
    if (more === undefined) {
      const doubts = [...doubtsOf(odds), ...sure.map((jump) => jump.doubt)];
      return { clock: fit, doubts, isBent: sure.length > 0 };
    }
    fit = more.fitted;
    sure.push(more.jump);
  }
}

/** A jump that was taken for sure by all witnesses together. */
interface SureJump {
  readonly atSec: number;
  readonly place: JumpPlace;
  /** How far its size is in doubt, by what else the leakage may be. */
  readonly doubt: JumpDoubt;
}

function askOnce(
  followed: FollowedPath,
  shown: (sessionSec: number) => number,
  line: Line,
  { music, claps, waves }: BesideBleed,
  sure: readonly SureJump[],
): PlaceOdds[] {
  const rows = followed.heldAgainst(shown);
  if (rows.rows.length === 0) return [];
  const notes = latenessAgainst(shown, music);
  const clock = { takeSecOf: shown, sessionSecOf: (takeSec: number): number => sessionSecOn(line, takeSec) };
  const witnesses: JumpWitnesses = {
    fromSec: rows.times[0]!,
    toSec: rows.times.at(-1)!,
    held: new HeldSums(rows),
    ...(notes.length === 0 ? {} : { notes: new StepTest(notes) }),
    marks: marksAgainst(shown, claps),
  };
  const odds = jumpOdds(witnesses);
  if (!waves.lookAbout(odds, clock, witnesses.fromSec, witnesses.toSec)) return odds;
  const breaks = waves
    .on(clock)
    .filter((one) => !sure.some(({ place }) => Math.abs(place.takeSec - one.takeSec) < 2 * BREAK_ERROR_SEC));
  return jumpOdds({ ...witnesses, breaks, isScanned: (sec) => waves.isScanned(shown(sec)) });
}

/** The clock with one jump more, where the leakage bears it out along its points. */
function withJump(
  print: GuidePrint,
  take: Sound,
  line: Line,
  followed: FollowedPath,
  fit: Fitted | undefined,
  { atSec, side, likeliestOffSec: offSec, offSec: meanSec, offErrorSec, wave }: PlaceOdds,
  sure: readonly SureJump[],
): { fitted: Fitted; jump: SureJump } | undefined {
  const before = (sec: number): number => (fit === undefined ? takeSecOn(line, sec) : takeSecOf(fit.clock, sec));
  const bent = (sec: number): number => before(sec) + ((side === 'after' ? sec > atSec : sec < atSec) ? offSec : 0);
  const steps = fit === undefined ? [] : fit.fit.bends.filter((bend) => bend.stepSec !== 0);
  const known = steps.map((bend) => 0.5 * (bend.afterSec + bend.beforeSec));
  const path = followed.pathOn(
    bent,
    [...known, atSec].sort((a, b) => a - b),
  );
  if (path === undefined || path.points.length < 2 || wave === undefined) return undefined;
  const apartSec = Math.hypot(offErrorSec, meanSec - offSec);
  const doubt = { atSec, side, likely: 1, offSec: apartSec, jumpSec: apartSec, by: 'mended' as const };
  const jump = { atSec, doubt, place: { takeSec: wave.takeSec, withinSec: BREAK_ERROR_SEC, isBreak: true } };
  const more = fitted(print, take, path, [...sure, jump]);
  const isBorneOut = more.fit.bends.some((bend) => bend.stepSec !== 0 && isAt(bend, jump));
  return isBorneOut ? { fitted: more, jump } : undefined;
}

/** Whether a bend lies between points about a moment. */
function isAt({ afterSec, beforeSec }: FittedBend, { atSec }: SureJump): boolean {
  return atSec > afterSec - 1 && atSec < beforeSec + 1;
}

/** The clock through a path's points, and where it bends: at breaks that are sure, else by the leakage. */
function fitted(print: GuidePrint, take: Sound, path: BleedPath, sure: readonly SureJump[]): Fitted {
  const { points, fit } = fitTwice(path);
  const places = fit.bends.map((bend, n): JumpPlace => {
    const lines = [fit.lines[n]!, fit.lines[n + 1]!] as const;
    const known = bend.stepSec === 0 ? undefined : sure.find((jump) => isAt(bend, jump));
    if (known !== undefined) return known.place;
    if (bend.stepSec !== 0) return placeJump(print, take, lines, bend.afterSec, bend.beforeSec);
    const atSec = 0.5 * (bend.afterSec + bend.beforeSec);
    return { takeSec: takeSecOn(lines[0], atSec), withinSec: 0.5 * (bend.beforeSec - bend.afterSec), isBreak: false };
  });
  // Two bends close together may each be drawn to the same break: in doubt each stays between its own points.
  const rises = places.every((place, n) => n === 0 || place.takeSec > places[n - 1]!.takeSec);
  const cuts = places.map((place, n) => {
    const { afterSec, beforeSec } = fit.bends[n]!;
    return rises ? place.takeSec : takeSecOn(fit.lines[n]!, 0.5 * (afterSec + beforeSec));
  });
  return { points, fit, clock: clockOfLines(fit.lines, cuts), places };
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
