import { type Clock, sessionSecOf } from '../signal/clock.ts';
import type { Sound } from '../signal/sound.ts';
import { type ClapSound, locateAttack } from './clap.ts';
import { fineLateness, type MarkBeginnings } from './fine-lateness.ts';
import type { FollowedBleed } from './follow-bleed.ts';
import { type NoteJumps, type NoteStep, stepsInNotes } from './follow-notes.ts';
import type { HeardBleed } from './hear-bleed.ts';
import { sessionSecOn } from './line.ts';
import { type Music, straightened } from './music-match.ts';
import { type ResidualInput, residualOf } from './residual.ts';
import { indexAfter } from './step-test.ts';
import { stepped, steppedBy, stretchTrail } from './stepped.ts';
import type { Rises } from './trace.ts';
import { trailOf } from './trail.ts';
import type { WaveBreaks } from './wave-breaks.ts';
import { mayBeNotes } from './weigh.ts';
import type { Placement, Testimony, TrailPoint } from './witness.ts';

/** The way from the headphones to the microphone is not known better than this, s (10 cm of air). */
const HEADPHONE_WAY_SEC = 0.0003;

type Placed = Extract<Placement, { kind: 'placed' }>;

/** What was heard of a take against the guide. */
export interface HeardAlong {
  readonly sound: Sound;
  /** Every sharp sound of the take, and the session times at which the guide asks for claps, s. */
  readonly claps: readonly ClapSound[];
  readonly cues: readonly number[];
  readonly music: Music | undefined;
  readonly bleed: HeardBleed | undefined;
  readonly byNotes: NoteJumps;
}

/** The jumps that the notes show: looked for where the leakage does not tell the clock. mark: when the guide's notes begin. */
export function jumpsOf(
  waves: WaveBreaks,
  take: { readonly sound: Sound; readonly rises: Rises },
  mark: MarkBeginnings,
  music: Music | undefined,
  bleed: HeardBleed | undefined,
): NoteJumps {
  if (bleed !== undefined || music === undefined || !music.byNotes) return { jumps: [], doubts: [] };
  const { leadSec, likelyDriftPpm, lateness, evenLeadSec } = music;
  const fine = fineLateness(mark, take, { leadSec, driftPpm: likelyDriftPpm }, music.broad);
  if (fine === undefined) return stepsInNotes(lateness, { leadSec: evenLeadSec, driftPpm: 0 }, waves);
  const even = { leadSec, driftPpm: 0 };
  const { jumps, doubts } = stepsInNotes(fine, even, waves, { alone: take.sound });
  return {
    jumps: jumps.map((jump) => ({ ...jump, at: indexAfter(lateness, sessionSecOn(even, jump.takeSec)) })),
    doubts,
  };
}

/**
 * Testimonies as they are to be weighed, on one even line: jumps that the notes show are taken out of them; beside leakage
 * that jumps, what is said as if the clock ran evenly is good to no more than about half of what it jumps by.
 */
export function besideJumps(
  heard: {
    readonly music: Music | undefined;
    readonly claps: readonly Testimony[];
    readonly bleed: HeardBleed | undefined;
  },
  jumps: readonly NoteStep[],
): Testimony[] {
  const { music, claps, bleed } = heard;
  if (jumps.length > 0 && music !== undefined) {
    const moved = claps.map((one) => ({ ...withoutDrift(one), takeSec: one.takeSec - steppedBy(jumps, one.takeSec) }));
    return [straightened(music, jumps).testimony, ...moved];
  }
  const others = [...(music ? [music.testimony] : []), ...claps];
  if (bleed === undefined) return others;
  const bends = bleed.followed?.clock.bends ?? [];
  let sum = 0;
  const places = [0, ...bends.map((bend) => (sum += bend.jumpSec))];
  const spanSec = Math.max(...places) - Math.min(...places);
  if (spanSec === 0) return [...others, bleed.testimony];
  const doubted = others.map((one) => ({
    ...withoutDrift(one),
    uncertaintySec: Math.hypot(one.uncertaintySec, 0.6 * spanSec),
  }));
  return [...doubted, bleed.testimony];
}

function withoutDrift({ driftPpm: _, driftUncertaintyPpm: _error, ...rest }: Testimony): Testimony {
  return rest;
}

/**
 * A placement with what its clock does along the take: bends, the trail of what was heard, how far any moment may lie off,
 * and a warning where that passes 10 ms. A question stays as it is.
 */
export function alongTake(placement: Placement, heard: HeardAlong): Placement {
  if (placement.kind !== 'placed') return placement;
  const { sound, bleed, music } = heard;
  const { jumps } = heard.byNotes;
  const isHeard = placement.evidence.some((one) => one.kind === 'bleed' && one.accepted);
  const followed = isHeard ? bleed?.followed : undefined;
  const bent = followed?.clock.bends === undefined ? undefined : followed;
  const clock = bent?.clock ?? stepped(placement, jumps);
  const points = [...(followed?.trail ?? []), ...notesTrail(music, jumps), ...clapsTrail(heard, clock, placement)];
  const trail = trailOf(points, clock);
  const placed = { ...placement, ...placeOf(clock), ...(bent && exactnessOf(bent, placement)) };
  const residual = residualOf(placed, {
    lengthSec: sound.lengthFrames / sound.rateHz,
    trail,
    withinSec: bent?.bendsWithinSec ?? jumps.map((jump) => jump.withinSec),
    doubts: isHeard && bleed !== undefined ? bleed.doubts : heard.byNotes.doubts,
    ...(followed === undefined ? {} : errorsOf(followed, music)),
  });
  return { ...placed, ...residual, ...(trail.length > 0 ? { trail } : {}) };
}

function placeOf({ offsetSec, driftPpm, bends }: Clock): Pick<Placed, 'offsetSec' | 'driftPpm' | 'bends'> {
  return { offsetSec, driftPpm, ...(bends === undefined ? {} : { bends }) };
}

/** Where the leakage is not heard as it should be, the notes alone tell the place. */
function errorsOf(
  { fit, missing }: FollowedBleed,
  music: Music | undefined,
): Pick<ResidualInput, 'errorAt' | 'missing'> {
  const byNotes = music?.testimony.uncertaintySec ?? CLAP_SPREAD_SEC;
  return {
    errorAt: (sec) =>
      missing !== undefined && sec >= missing.fromSec && sec <= missing.toSec
        ? byNotes
        : Math.hypot(HEADPHONE_WAY_SEC, fit.errorAt(sec)),
    ...(missing === undefined ? {} : { missing }),
  };
}

/** How well a clock that bends is known: no better than its place, where what was taken for leakage may be none. */
function exactnessOf(
  { fit, trail }: FollowedBleed,
  { evidence, uncertaintySec }: Placed,
): Pick<Placed, 'uncertaintySec' | 'driftUncertaintyPpm'> {
  const middleSec = trail[trail.length >> 1]!.atSec;
  const exactSec = Math.hypot(HEADPHONE_WAY_SEC, fit.errorAt(middleSec));
  const isUnsure = evidence.some((one) => one.kind === 'bleed' && mayBeNotes(one));
  return {
    uncertaintySec: isUnsure ? Math.max(uncertaintySec, exactSec) : exactSec,
    driftUncertaintyPpm: fit.driftErrorPpm,
  };
}

function notesTrail(music: Music | undefined, jumps: readonly NoteStep[]): TrailPoint[] {
  if (music === undefined) return [];
  const { lateness, evenLeadSec, latenessSec } = music;
  return stretchTrail(
    'onsets',
    lateness,
    jumps.map((jump) => jump.at),
    evenLeadSec,
    latenessSec,
  );
}

const CLAP_SPREAD_SEC = 0.0125;
const CLAP_REACH_SEC = 0.06;
const LEAST_LIKENESS = 0.45;

/** All claps that answer a cue under the clock that was found. */
function clapsTrail({ sound, claps, cues }: HeardAlong, clock: Clock, { evidence }: Placed): TrailPoint[] {
  return cues.flatMap((cue): TrailPoint[] => {
    const near = claps
      .filter(
        (clap) => clap.likeness >= LEAST_LIKENESS && Math.abs(sessionSecOf(clock, clap.atSec) - cue) < CLAP_REACH_SEC,
      )
      .sort((a, b) => b.likeness - a.likeness)[0];
    if (near === undefined) return [];
    const known = evidence.find(
      (one) => one.kind === 'clap' && Math.abs(one.takeSec - near.atSec) < CLAP_REACH_SEC / 2,
    );
    const takeSec = known?.takeSec ?? locateAttack(sound, near.atSec);
    return [{ kind: 'clap', atSec: cue, takeSec, uncertaintySec: CLAP_SPREAD_SEC, accepted: true }];
  });
}
