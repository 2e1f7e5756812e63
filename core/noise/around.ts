import type { Block } from '../signal/block.ts';
import type { Sound } from '../signal/sound.ts';
import { Cleaner } from './cleaner.ts';
import { CleaningMeasure, type CleaningReport } from './cleaning-measure.ts';
import type { Stretch } from './learn.ts';
import type { NoiseProfile } from './profile.ts';
import type { CleanSettings } from './settings.ts';

/** The clip around a take that is a part of it. */
export interface Around {
  /** The whole clip, by frames of the take: they begin below zero. */
  readonly sound: Sound;
  /** Silences of the clip, by frames of the take, best first. */
  readonly silences: readonly Stretch[];
  /** 0 to 1. */
  readonly confidence: number;
}

/** A clip seen from a take that begins at one of its frames. clip: its silences in frames of the clip, best first. */
export function aroundOf(
  sound: Sound,
  clip: { readonly fromFrame: number; readonly silences: readonly Stretch[]; readonly confidence: number },
): Around {
  const { fromFrame, silences, confidence } = clip;
  return {
    sound: {
      rateHz: sound.rateHz,
      lengthFrames: sound.lengthFrames - fromFrame,
      read: (from, target) => sound.read(from + fromFrame, target),
    },
    silences: silences.map((one) => ({ fromFrame: one.fromFrame - fromFrame, toFrame: one.toFrame - fromFrame })),
    confidence,
  };
}

/** No more of a silence is cleaned to see what comes of it, s. */
const LONGEST_SEC = 8;

/**
 * What cleaning makes of a silence that lies outside the take: the take's own sound has none to measure. Gives the report
 * of the silence (its harm says nothing), and the silence cleaned, by frames of the take.
 */
export function measureAround(
  { sound }: Around,
  silence: Stretch,
  profile: NoiseProfile,
  settings: CleanSettings,
): { readonly report: CleaningReport; readonly silence: Stretch; readonly cleaned: Sound } {
  const { fromFrame } = silence;
  const toFrame = Math.min(silence.toFrame, fromFrame + Math.round(LONGEST_SEC * sound.rateHz));
  const samples = new Float32Array(toFrame - fromFrame);
  sound.read(fromFrame, samples);
  const cleaner = new Cleaner(sound.rateHz, profile, settings);
  cleaner.reset(fromFrame);
  const measure = new CleaningMeasure(profile, [{ fromFrame, toFrame }], null, fromFrame);
  const whole = new Float32Array(samples.length);
  let at = 0;
  const look = ([cleaned, removed]: Block): void => {
    measure.add(cleaned!, removed!);
    whole.set(cleaned!.subarray(0, whole.length - at), at);
    at += cleaned!.length;
  };
  look(cleaner.process([samples]));
  look(cleaner.flush());
  return {
    report: measure.result(),
    silence: { fromFrame, toFrame },
    cleaned: {
      rateHz: sound.rateHz,
      lengthFrames: toFrame,
      read(from, target) {
        target.fill(0);
        const begin = Math.max(from, fromFrame);
        const end = Math.min(from + target.length, toFrame);
        if (end > begin) target.set(whole.subarray(begin - fromFrame, end - fromFrame), begin - from);
      },
    },
  };
}
