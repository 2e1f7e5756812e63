import type { Sound } from '../signal/sound.ts';
import { evidenceOf, mostEvidence, turnEvidenceAt } from './break-evidence.ts';
import { type Pulse, pulsesOf } from './break-pulses.ts';
import { PartialListener } from './partial-steps.ts';
import { doubledLikely, evidenceAnywhere, evidenceAtBreak, gainOf, MOST_DOUBLED_EVIDENCE } from './repeat-evidence.ts';
import { type Repeat, repeatsIn } from './repeat-search.ts';
import { turnedMoments } from './turn-scan.ts';

/** A moment at which the wave of a sound breaks, as it does where sound was cut out or doubled. */
export interface SoundBreak {
  /** The sound's own time, s, to about 1 ms; to 5 ms where the ratio is 1. */
  readonly atSec: number;
  /** Power of what no prediction explains there over the loudest of before and after; 1 where only the partials tell. */
  readonly ratio: number;
  /**
   * How likely a cut makes such a break, over how many such come by chance in a second of sound without cuts; logarithm, nepers,
   * 8 at most, 12 where sound is doubled. Plus the logarithm of how likely a cut in a second there is otherwise, it gives the odds of a cut.
   */
  readonly evidence: number;
  /** How much sound is there twice from here on, s; absent where none is, or none that is known to be. */
  readonly doubledSec?: number;
  /** How likely it is doubled by so much if the wave is cut here, 0 to 1. */
  readonly doubledLikely?: number;
}

/** By chance this much comes once in some 8 min of sound; more than half of all cuts pass it. */
export const SURE_EVIDENCE = 3;
/** Pulses this far over the mean around them are looked at. */
const LEAST_OVER_MEAN = 3;
/** Stretches up to so long are looked through for turns of the partials too, which takes twice as long, s. */
const CLOSELY_SEC = 60;
/** Turns that say less for a cut, nepers, come many times a second. */
const LEAST_TURN_GAIN = 13;
/** Where a turn is looked at around the moment told, s. */
const NEARBY_SEC = [-0.006, -0.003, 0, 0.003, 0.006] as const;
/** Pulses that say no less than this are asked whether sound is doubled there, nepers. */
const LEAST_FOR_REPEAT = -1;
/** Where sound takes the place of other sound the wave breaks again at its end, to this, s. */
const END_SEC = 0.0015;
/** Noise has such a pulse within this of a moment once in a thousand. */
const END_OVER_MEAN = 4;
/** What is doubled is found within this of its beginning too, s. */
const SHADOW_SEC = 0.06;
/** Breaks nearer than this are one, s. */
const ALIKE_SEC = 0.012;

/**
 * Breaks of the wave between two times of a sound, s, or in the whole of it, likeliest first, at most `most`, of at least
 * `leastEvidence` nepers.
 *
 * What a linear predictor leaves over of a held tone is little; at a cut it leaves a pulse (Godsill and Rayner, Digital Audio
 * Restoration, 1998, section 5.3), also after AAC at 128 kbit/s. A note's attack leaves much too, but goes on doing so. The
 * pulse is weighed together with what the partials do there: at a cut of d seconds each turns in phase by 2 pi f d
 * and keeps its level, at an attack levels change. In stretches up to 60 s moments are found too at which only the partials
 * turn. In rests and in noise a cut cannot be heard and is not found: that no break is found speaks against a cut only where a
 * tone sounds; but sound that was doubled is found there too, by what is the same in it sample by sample (see `repeatsIn`), in
 * stretches up to 60 s.
 */
export function soundBreaks(
  sound: Sound,
  fromSec: number,
  toSec: number,
  most = 8,
  leastEvidence = SURE_EVIDENCE,
): SoundBreak[] {
  const listener = new PartialListener(sound);
  const isClose = toSec - fromSec <= CLOSELY_SEC;
  const least = isClose ? Math.min(leastEvidence, LEAST_FOR_REPEAT) : leastEvidence;
  let found: SoundBreak[] = [];
  const pulses = pulsesOf(sound, fromSec, toSec, LEAST_OVER_MEAN);
  for (const pulse of pulses) {
    if (mostEvidence(pulse) < least) continue;
    const evidence = evidenceOf(listener, pulse);
    if (evidence >= least) found.push({ atSec: pulse.atSec, ratio: pulse.overLoudest, evidence });
  }
  if (isClose) {
    for (const one of turnsOf(sound, listener, fromSec, toSec)) {
      if (one.evidence < least) continue;
      const at = found.findIndex(({ atSec }) => Math.abs(atSec - one.atSec) < ALIKE_SEC);
      // The pulse tells the place better.
      if (at < 0) found.push(one);
      else if (found[at]!.evidence < one.evidence) found[at] = { ...found[at]!, evidence: one.evidence };
    }
    found = withRepeats(sound, fromSec, toSec, found, pulses);
  }
  return found
    .filter(({ evidence }) => evidence >= leastEvidence)
    .sort((a, b) => b.evidence - a.evidence || b.ratio - a.ratio)
    .slice(0, most);
}

/** Moments between two times of a sound, s, from which on sound seems to be there twice, in order: it takes a fifth of the time of `soundBreaks`. */
export function doubledMoments(sound: Sound, fromSec: number, toSec: number): number[] {
  const { anywhere } = repeatsIn(sound, fromSec, toSec, []);
  return anywhere.filter((repeat) => evidenceAnywhere(repeat) > 0).map(({ atSec }) => atSec);
}

/** Breaks with what is known of sound that is there twice, and those that only this shows. */
function withRepeats(
  sound: Sound,
  fromSec: number,
  toSec: number,
  breaks: readonly SoundBreak[],
  pulses: readonly Pulse[],
): SoundBreak[] {
  const places = breaks.map(({ atSec }) => atSec);
  const { anywhere, atPlaces } = repeatsIn(sound, fromSec, toSec, places);
  const gains = new Map<SoundBreak, number>();
  const doubled = (one: Omit<SoundBreak, 'doubledSec'>, repeat: Repeat): SoundBreak => {
    const told = { ...one, doubledSec: repeat.lengthSec, doubledLikely: doubledLikely(repeat) };
    gains.set(told, gainOf(repeat));
    return told;
  };
  const found = breaks.map((one): SoundBreak => {
    const repeat = atPlaces.get(one.atSec);
    const more = repeat === undefined || isFilled(repeat, pulses) ? 0 : evidenceAtBreak(repeat);
    if (repeat === undefined || more === 0) return one;
    return doubled({ ...one, evidence: Math.min(MOST_DOUBLED_EVIDENCE, Math.max(0, one.evidence) + more) }, repeat);
  });
  for (const repeat of anywhere) {
    const evidence = evidenceAnywhere(repeat);
    if (evidence <= 0 || isFilled(repeat, pulses)) continue;
    const near = found.filter(({ atSec }) => Math.abs(atSec - repeat.atSec) < ALIKE_SEC);
    if (near.some((one) => (gains.get(one) ?? 0) >= gainOf(repeat))) continue;
    for (const one of near) found.splice(found.indexOf(one), 1);
    const known = breaks.find(({ atSec }) => near.some((one) => one.atSec === atSec));
    const most = Math.max(evidence, ...near.map((one) => one.evidence));
    // A pulse tells the place better.
    const place = known !== undefined && known.evidence > 0 ? known : { atSec: repeat.atSec, ratio: 1 };
    found.push(doubled({ ...place, evidence: most }, repeat));
  }
  // What is there twice is found in pieces too, each by another length or place.
  const isShadow = (one: SoundBreak): boolean =>
    gains.has(one) &&
    found.some((two) => Math.abs(two.atSec - one.atSec) < SHADOW_SEC && (gains.get(two) ?? 0) > gains.get(one)!);
  return found.filter((one) => !isShadow(one));
}

/** Whether sound that was lost was filled with what went before it: no time is lost then, and the wave breaks again where the rest goes on. */
function isFilled({ atSec, lengthSec }: Repeat, pulses: readonly Pulse[]): boolean {
  const begins = pulses.filter((pulse) => Math.abs(pulse.atSec - atSec) < ALIKE_SEC).map((pulse) => pulse.atSec);
  return pulses.some(
    ({ atSec: endSec, overMean }) =>
      overMean > END_OVER_MEAN && [atSec, ...begins].some((begin) => Math.abs(endSec - begin - lengthSec) < END_SEC),
  );
}

/** Breaks that only the partials show, each where they show it most. */
function turnsOf(sound: Sound, listener: PartialListener, fromSec: number, toSec: number): SoundBreak[] {
  return turnedMoments(sound, fromSec, toSec, LEAST_TURN_GAIN).map((moment) => {
    const tries = NEARBY_SEC.map((bySec) => {
      const { evidence, gain } = turnEvidenceAt(listener, moment + bySec);
      return { atSec: moment + bySec, ratio: 1, evidence, gain };
    });
    const { atSec, ratio, evidence } = tries.reduce((best, one) => (one.gain > best.gain ? one : best));
    return { atSec, ratio, evidence };
  });
}
