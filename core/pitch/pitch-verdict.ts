import { clockText } from '../signal/time.ts';
import { centsOf, vibratoOf } from './pitch-span.ts';
import type { PitchTrack } from './pitch-tracker.ts';
import { medianOfRow, valueAtRank } from './rank.ts';
import type { SecondPitch } from './second-pitch.ts';

/** Whether the pitch of a take can be measured, and why not. */
export interface PitchVerdict {
  readonly kind: 'pitched' | 'unsure' | 'several' | 'unpitched' | 'silent';
  /** Of the time in which something sounds: how much has one clear pitch, 0 to 1. */
  readonly pitchedShare: number;
  /** One plain sentence; a second one where single stretches are not measured. */
  readonly sentence: string;
}

/** A stretch in which several notes sound at once, s of the take. */
export interface SeveralStretch {
  readonly fromSec: number;
  readonly toSec: number;
}

type JudgedTrack = Pick<PitchTrack, 'hz' | 'hollow' | 'levelsDbfs' | 'hopSec' | 'firstSec'>;

/** Chosen between takes of one instrument (0.75 and more) and chords, speech-like noise and drums (see the tests). */
const CLEAR_SHARE = 0.6;
const SOME_SHARE = 0.3;
/**
 * Frames with a pitch that is hollow. Of melodies of one instrument in rooms of up to 1.8 s: none in most; clarinet 0.09, low trombone and
 * bassoon up to 0.15. Of harp, guitars, piano and vibraphone that ring on over each other mostly 0.09 to 0.68 (a banjo 0.01: not told); of
 * chords and two voices mostly 0.3 and more, but of thirds, sixths and free parts often less. Fifths of the softest tones pass for one note:
 * nothing then sounds between their partials.
 */
const SEVERAL_SHARE = 0.2;
const PERHAPS_SEVERAL_SHARE = 0.05;
/**
 * The same where moments with a second note beside the pitch (second-pitch.ts) are added, of which there have to be so many at least, and
 * hollow frames that hold one whole tone are left out. Chosen on 239 takes of one sampled instrument (rooms of up to 1.8 s; 42 of them behind
 * a high pass at 150 to 500 Hz, as of small microphones) and 196 of two and three at once. On 26 instruments held out (test/bench/try-several.ts
 * with seed 7), by hollow frames alone and with all this: of 104 takes of one 4 and none were refused (none of another 260), 7 and 10 told to
 * be unsure; of 234 of several 89 and 164 were refused, 55 and 17 passed for one pitch. Not told: octaves, a drone that is plucked once, and
 * struck bars and banjos, of whose tones one partial lasts or none.
 */
const PERHAPS_BESIDE_SHARE = 0.06;
const FEWEST_BESIDE = 5;
const FEWEST_PERHAPS_BESIDE = 3;
/** Moments less apart than this are told as one place, s; so many places are told. */
const PLACE_SEC = 1;
const TOLD_PLACES = 3;
const NOTHING_BESIDE: SecondPitch = { lookedSec: [], found: [], wholeShare: 0 };
/** Where more of the hollow frames than this hold one tone, no stretches of several notes are told. */
const MOSTLY_WHOLE = 0.5;
/** Within a take of one voice a stretch is taken to hold several notes where half of the frames about it (0.5 s) are hollow. */
const STRETCH_SHARE = 0.5;
const STRETCH_HALF_FRAMES = 25;
const LEAST_STRETCH_SEC = 0.3;
/**
 * Pitched frames that lie in a note: whose pitch stays over 0.08 s, is after 0.12 s what it was before, or swings as a vibrato does. Of
 * speech 0.30 and 0.43; of melodies of one instrument 0.6 and more.
 */
const STEADY_SHARE = 0.5;
const STILL_FRAMES = 4;
const STILL_CENTS = 25;
const SIDE_FRAMES = 12;
const SIDE_CENTS = 35;
const SWAY_FRAMES = 35;
const SWAY_CENTS = 100;
const LOOK_EACH = 5;
const SHORTEST_SEC = 0.5;

/**
 * Looks at the frames in which something sounds. besideOf: what sounds beside the pitch (second-pitch.ts); not asked where the
 * track tells that there is nothing to measure.
 */
export function pitchVerdict(track: JudgedTrack, besideOf?: () => SecondPitch): PitchVerdict {
  const levels = track.levelsDbfs.slice();
  const levelAt = (share: number): number =>
    levels.length === 0 ? Number.NEGATIVE_INFINITY : valueAtRank(levels, Math.floor(share * (levels.length - 1)));
  const loudest = levelAt(0.98);
  const floor = levelAt(0.03);
  const gate = Math.max(loudest - 30, Math.min(floor + 6, loudest - 10));
  const { sounding, pitched, hollow } = countFrames(track, gate);
  if (sounding * track.hopSec < SHORTEST_SEC || loudest < -80) {
    return { kind: 'silent', pitchedShare: 0, sentence: 'Too little sounds in it to measure its pitch.' };
  }
  const pitchedShare = pitched / sounding;
  const hollowShare = pitched === 0 ? 0 : hollow / pitched;
  const percent = percentOf(pitchedShare);
  const isToAsk = pitchedShare >= SOME_SHARE || hollowShare >= SEVERAL_SHARE;
  const beside = isToAsk ? (besideOf?.() ?? NOTHING_BESIDE) : NOTHING_BESIDE;
  const brokenShare = hollowShare * (1 - beside.wholeShare);
  const share = Math.min(1, brokenShare + besideShare(beside, false));
  if (share >= SEVERAL_SHARE) return severalAtOnce(pitchedShare, share);
  if (pitchedShare < SOME_SHARE) {
    return {
      kind: 'unpitched',
      pitchedShare,
      sentence: `It has no clear pitch (only in ${percent} of its sound): drums, breath, speech, noise or several notes at once; its pitch is not measured.`,
    };
  }
  const where = beside.wholeShare < MOSTLY_WHOLE ? told(severalStretches(track)) : '';
  const withCare = `take its figures with care.${where}`;
  const perhaps = besideShare(beside, true);
  if (brokenShare >= PERHAPS_SEVERAL_SHARE || brokenShare + perhaps >= PERHAPS_BESIDE_SHARE) {
    const places = where === '' ? placesTold(beside) : where;
    return {
      kind: 'unsure',
      pitchedShare,
      sentence: `Now and then (in at least ${percentOf(brokenShare + perhaps)} of its sound) several notes seem to sound at once, as where strings ring on; take its figures with care.${places}`,
    };
  }
  if (steadyShare(track, gate) < STEADY_SHARE) {
    return {
      kind: 'unsure',
      pitchedShare,
      sentence: `Its pitch glides most of the time and rests on few notes, as in speech or very fast playing; ${withCare}`,
    };
  }
  if (pitchedShare >= CLEAR_SHARE) {
    return {
      kind: 'pitched',
      pitchedShare,
      sentence: `One clear pitch at a time.${where}${where === '' ? '' : ' Take its figures there with care.'}`,
    };
  }
  return {
    kind: 'unsure',
    pitchedShare,
    sentence: `Only ${percent} of its sound has a clear pitch: breathy, noisy or with several notes at once; ${withCare}`,
  };
}

/** Frames in which something sounds, those of them with a pitch, and of these the hollow ones. */
function countFrames(track: JudgedTrack, gate: number): { sounding: number; pitched: number; hollow: number } {
  let sounding = 0;
  let pitched = 0;
  let hollow = 0;
  for (let n = 0; n < track.hz.length; n++) {
    if (track.levelsDbfs[n]! < gate) continue;
    sounding++;
    if (Number.isNaN(track.hz[n]!)) continue;
    pitched++;
    if (track.hollow[n]! > 0) hollow++;
  }
  return { sounding, pitched, hollow };
}

function severalAtOnce(pitchedShare: number, share: number): PitchVerdict {
  const where = `in at least ${percentOf(share)} of its sound`;
  return {
    kind: 'several',
    pitchedShare,
    sentence: `Several notes seem to sound at once, ${where}; Partsong measures one at a time, so its pitch is not measured.`,
  };
}

function percentOf(share: number): string {
  return `${Math.round(100 * share)} %`;
}

/** Of the moments looked at those with a second note; 0 where they are too few to tell. withRinging: also what may be the last note's ring. */
function besideShare({ lookedSec, found }: SecondPitch, withRinging: boolean): number {
  const count = withRinging ? found.length : found.filter((one) => !one.isRinging).length;
  return count < (withRinging ? FEWEST_PERHAPS_BESIDE : FEWEST_BESIDE) ? 0 : count / lookedSec.length;
}

/** Where a second note was heard. */
function placesTold({ found }: SecondPitch): string {
  const places: number[] = [];
  let lastSec = Number.NEGATIVE_INFINITY;
  for (const { sec } of found) {
    if (sec - lastSec > PLACE_SEC) places.push(sec);
    lastSec = sec;
  }
  if (places.length === 0) return '';
  const told = places.slice(0, TOLD_PLACES).map((sec) => clockText(sec, 1));
  return ` A second note was heard at ${told.join(', ')}${morePlaces(places.length)}.`;
}

/** Stretches of a take in which several notes sound at once, so that no pitch is one note's. */
export function severalStretches(track: JudgedTrack): SeveralStretch[] {
  const { hz, hollow, firstSec, hopSec } = track;
  const stretches: SeveralStretch[] = [];
  let pitched = 0;
  let several = 0;
  const count = (n: number, by: number): void => {
    if (n < 0 || n >= hz.length || Number.isNaN(hz[n]!)) return;
    pitched += by;
    if (hollow[n]! > 0) several += by;
  };
  for (let n = 0; n < STRETCH_HALF_FRAMES; n++) count(n, 1);
  for (let n = 0; n < hz.length; n++) {
    count(n + STRETCH_HALF_FRAMES, 1);
    count(n - STRETCH_HALF_FRAMES - 1, -1);
    if (several < LEAST_STRETCH_SEC / hopSec / 2 || several < STRETCH_SHARE * pitched) continue;
    const fromSec = firstSec + n * hopSec;
    const last = stretches.at(-1);
    if (last !== undefined && fromSec - last.toSec < LEAST_STRETCH_SEC) {
      stretches[stretches.length - 1] = { fromSec: last.fromSec, toSec: fromSec + hopSec };
    } else stretches.push({ fromSec, toSec: fromSec + hopSec });
  }
  return stretches.filter((one) => one.toSec - one.fromSec >= LEAST_STRETCH_SEC);
}

function told(stretches: readonly SeveralStretch[]): string {
  if (stretches.length === 0) return '';
  const places = stretches
    .slice(0, TOLD_PLACES)
    .map(({ fromSec, toSec }) => `from ${clockText(fromSec, 1)} to ${clockText(toSec, 1)}`);
  return ` Several notes seem to sound at once ${places.join(', ')}${morePlaces(stretches.length)}.`;
}

function morePlaces(count: number): string {
  const more = count - TOLD_PLACES;
  if (more <= 0) return '';
  return more === 1 ? ' and in one more place' : ` and in ${more} more places`;
}

/** Share of the pitched frames that lie in a note. */
function steadyShare(track: JudgedTrack, gate: number): number {
  const cents = track.hz.map((hz, n) => (track.levelsDbfs[n]! < gate ? Number.NaN : centsOf(hz)));
  let pitched = 0;
  let steady = 0;
  for (let n = 0; n < cents.length; n += LOOK_EACH) {
    if (Number.isNaN(cents[n]!)) continue;
    pitched++;
    if (isStill(cents, n) || isBack(cents, n) || sways(cents, n, track.hopSec)) steady++;
  }
  return pitched === 0 ? 0 : steady / pitched;
}

function isStill(cents: Float64Array, n: number): boolean {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let k = n - STILL_FRAMES; k <= n + STILL_FRAMES; k++) {
    const one = cents[k] ?? Number.NaN;
    if (Number.isNaN(one)) return false;
    low = Math.min(low, one);
    high = Math.max(high, one);
  }
  return high - low < STILL_CENTS;
}

function isBack(cents: Float64Array, n: number): boolean {
  const side = (from: number): Float64Array =>
    cents.subarray(Math.max(0, from), Math.max(0, from + SIDE_FRAMES)).filter(isPitch);
  const before = side(n - SIDE_FRAMES);
  const after = side(n + 1);
  if (Math.min(before.length, after.length) < SIDE_FRAMES - 2) return false;
  return Math.abs(medianOfRow(after) - medianOfRow(before)) < SIDE_CENTS;
}

function sways(cents: Float64Array, n: number, hopSec: number): boolean {
  const near = [...cents.subarray(Math.max(0, n - SWAY_FRAMES), n + SWAY_FRAMES + 1)].filter(isPitch);
  const middle = medianOfRow(Float64Array.from(near));
  return (
    vibratoOf(
      near.filter((one) => Math.abs(one - middle) < SWAY_CENTS),
      hopSec,
    ) !== null
  );
}

function isPitch(cents: number): boolean {
  return !Number.isNaN(cents);
}
