import type { Sound } from '../signal/sound.ts';
import { evidenceOf, mostEvidence, turnEvidenceAt } from './break-evidence.ts';
import { pulsesOf } from './break-pulses.ts';
import { PartialListener } from './partial-steps.ts';
import { turnedMoments } from './turn-scan.ts';

/** A moment at which the wave of a sound breaks, as it does where sound was cut out or doubled. */
export interface SoundBreak {
  /** The sound's own time, s, to about 1 ms; to 5 ms where the ratio is 1. */
  readonly atSec: number;
  /** Power of what no prediction explains there over the loudest of before and after; 1 where only the partials tell. */
  readonly ratio: number;
  /**
   * How likely a cut makes such a break, over how many such come by chance in a second of sound without cuts; logarithm, nepers,
   * 8 at most. Plus the logarithm of how likely a cut in a second there is otherwise, it gives the odds of a cut.
   */
  readonly evidence: number;
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
 * tone sounds.
 */
export function soundBreaks(
  sound: Sound,
  fromSec: number,
  toSec: number,
  most = 8,
  leastEvidence = SURE_EVIDENCE,
): SoundBreak[] {
  const listener = new PartialListener(sound);
  const found: SoundBreak[] = [];
  for (const pulse of pulsesOf(sound, fromSec, toSec, LEAST_OVER_MEAN)) {
    if (mostEvidence(pulse) < leastEvidence) continue;
    const evidence = evidenceOf(listener, pulse);
    if (evidence >= leastEvidence) found.push({ atSec: pulse.atSec, ratio: pulse.overLoudest, evidence });
  }
  if (toSec - fromSec <= CLOSELY_SEC) {
    for (const one of turnsOf(sound, listener, fromSec, toSec)) {
      if (one.evidence < leastEvidence) continue;
      const at = found.findIndex(({ atSec }) => Math.abs(atSec - one.atSec) < ALIKE_SEC);
      // The pulse tells the place better.
      if (at < 0) found.push(one);
      else if (found[at]!.evidence < one.evidence) found[at] = { ...found[at]!, evidence: one.evidence };
    }
  }
  return found.sort((a, b) => b.evidence - a.evidence || b.ratio - a.ratio).slice(0, most);
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
