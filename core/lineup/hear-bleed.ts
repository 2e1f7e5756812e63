import { sessionSecOf } from '../signal/clock.ts';
import type { Sound } from '../signal/sound.ts';
import { type BleedFit, findBleed } from './bleed.ts';
import { BLEED_REACH_SEC } from './bleed-rows.ts';
import type { JumpDoubt } from './clock-doubt.ts';
import { type AlongBleed, type BesideBleed, type FollowedBleed, followClockByBleed } from './follow-bleed.ts';
import type { GuideMap } from './guide-map.ts';
import type { Music } from './music-match.ts';
import { asMs } from './sentences.ts';
import { indexAfter, stepAt } from './step-test.ts';
import { USUAL_DRIFT_PPM } from './weigh.ts';
import type { Testimony } from './witness.ts';

/** Trust in the guide's leakage where the take's notes match the guide nowhere: too little to place a take by itself. */
const MOST_CONTRADICTED = 0.45;

/** Notes speak against a jump that differs from theirs by so many standard deviations and this, s. */
const NOTES_ERR = 3;
const NOTES_OFF_SEC = 0.004;

/** The guide's leakage as evidence. */
export interface HeardBleed {
  readonly testimony: Testimony;
  /** Along the take; undefined where it is too faint for that. */
  readonly followed: FollowedBleed | undefined;
  /** Where its clock may jump although no jump was found. */
  readonly doubts: readonly JumpDoubt[];
}

/** Where a take is taken to lie before its leakage is looked for. */
interface Assumed {
  readonly leadSec: number;
  readonly driftPpm: number;
  readonly driftSpreadPpm: number;
  readonly spreadSec: number;
}

/**
 * Looks for the guide's leakage where a take is assumed to lie, along its whole length, and follows it; where it lies on one
 * line in no more than half of the take, only as a clock that jumps, and only where the notes say nothing against the jump.
 */
export function hearBleed(
  sound: Sound,
  guide: GuideMap,
  assumed: { readonly offsetSec: number; readonly driftPpm: number; readonly uncertaintySec: number },
  beside: BesideBleed,
): HeardBleed | undefined {
  const { music, claps } = beside;
  const spreadSec = Math.hypot(assumed.uncertaintySec, 0.004);
  const told = claps.some((clap) => clap.driftPpm !== undefined);
  const usual = { driftPpm: assumed.driftPpm, driftSpreadPpm: USUAL_DRIFT_PPM, spreadSec };
  const plain = { ...usual, leadSec: -assumed.offsetSec * (1 + assumed.driftPpm * 1e-6) };
  if (told || music === undefined || music.likelyDriftPpm === 0) return hearAt(sound, guide, plain, beside);
  const { leadSec, likelyDriftPpm: driftPpm, slopeErrorPpm, testimony } = music;
  const unusual = { leadSec, driftPpm, driftSpreadPpm: Math.min(100, slopeErrorPpm), spreadSec };
  // What looks like an unusual drift may be a jump.
  const level = { ...usual, driftPpm: 0, leadSec: testimony.takeSec - testimony.atSec };
  return hearAt(sound, guide, unusual, beside) ?? hearAt(sound, guide, level, beside);
}

function hearAt(
  sound: Sound,
  guide: GuideMap,
  { leadSec, driftPpm, driftSpreadPpm, spreadSec }: Assumed,
  beside: BesideBleed,
): HeardBleed | undefined {
  const { music } = beside;
  const confirmed = music !== undefined;
  const expected = { spreadSec, driftSpreadPpm, confirmed };
  const isHeard = (found: BleedFit): boolean => found.heard && Math.abs(found.laterSec) <= 0.95 * BLEED_REACH_SEC;
  const follow = (found: BleedFit): AlongBleed | 'chance' => {
    const line = {
      leadSec: leadSec + found.laterSec - found.atSec * found.driftPpm * 1e-6,
      driftPpm: driftPpm + found.driftPpm,
    };
    const { stretches, peakHeight: height } = found;
    const along = followClockByBleed(guide.print, sound, line, { stretches, height }, beside);
    if (along === 'chance' || along.followed === undefined || notesAgree(along.followed, music)) return along;
    return { doubts: [...along.doubts, ...doubtsLeft(along.followed)], followed: undefined };
  };
  const bleed = findBleed(guide.print, sound, leadSec, driftPpm, expected);
  if (bleed === undefined) return undefined;
  let fit: BleedFit | undefined;
  let along: AlongBleed | undefined;
  if (isHeard(bleed.whole)) {
    const whole = follow(bleed.whole);
    if (whole !== 'chance') [fit, along] = [bleed.whole, whole];
  }
  for (const second of fit === undefined && confirmed ? [false, true] : []) {
    const half = bleed.half(second);
    const byHalf = isHeard(half) ? follow(half) : 'chance';
    if (byHalf === 'chance' || !byHalf.followed?.clock.bends?.some((bend) => bend.jumpSec !== 0)) continue;
    [fit, along] = [half, byHalf];
    break;
  }
  if (fit === undefined || along === undefined) return undefined;
  const testimony: Testimony = {
    kind: 'bleed',
    atSec: fit.atSec,
    takeSec: leadSec + fit.atSec * (1 + driftPpm * 1e-6) + fit.laterSec,
    uncertaintySec: fit.errorSec,
    driftPpm: driftPpm + fit.driftPpm,
    driftUncertaintyPpm: fit.driftErrorPpm,
    trust: Math.min(confirmed || !guide.hasNotes ? 0.98 : MOST_CONTRADICTED, 1 - Math.exp(-(fit.height - 4) / 1.2)),
    note: `The guide can be heard faintly in the take, from the headphones; that is good to about ${asMs(fit.errorSec)}.`,
  };
  return { testimony, ...along };
}

/** A jump to a wrong place in the correlation is one that the notes do not make, and at which the wave does not break. */
function notesAgree({ clock, isBroken }: FollowedBleed, music: Music | undefined): boolean {
  if (isBroken) return true;
  if (music === undefined) return clock.bends === undefined;
  const along = music.lateness;
  const indexes = (clock.bends ?? []).map((bend) => indexAfter(along, sessionSecOf(clock, bend.takeSec)));
  return (clock.bends ?? []).every(({ jumpSec }, n) => {
    if (jumpSec === 0) return true;
    const others = indexes.filter((at, m) => m !== n && at > 0 && at < along.length && at !== indexes[n]);
    const heard = stepAt(along, indexes[n]!, others);
    return heard === undefined || Math.abs(heard.stepSec + jumpSec) < NOTES_ERR * heard.stepErrorSec + NOTES_OFF_SEC;
  });
}

/** What jumps leave in doubt that the notes do not make. */
function doubtsLeft({ clock }: FollowedBleed): JumpDoubt[] {
  return (clock.bends ?? []).map(({ takeSec, jumpSec }) => {
    const offSec = Math.abs(jumpSec);
    return { atSec: sessionSecOf(clock, takeSec), side: 'after', likely: 0.5, offSec, jumpSec: offSec, by: 'bleed' };
  });
}
