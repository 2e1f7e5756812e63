import { LOW_CUT_HZ, type StripSettings } from '../mix/strip.ts';
import type { Voice } from './schema.ts';

/** What the blend found for a voice by itself, before anything was moved by hand. */
export interface BlendFinding {
  /** dB. */
  readonly gainDb: number;
  /** Degrees, left negative. */
  readonly placeDeg: number;
  /** Nobody knows where the take lies, so the mix does without it. */
  readonly leftOut: boolean;
}

/**
 * How a voice goes into the mix: the blend's finding and what the hand moved on top. The desk renders and the screen plays
 * with this one rule, so that both sound the same.
 */
export function stripOf(voice: Voice, finding: BlendFinding): StripSettings {
  return {
    gainDb: Math.min(MOST_GAIN_DB, finding.gainDb + voice.trimDb),
    placeDeg: voice.placeDeg ?? finding.placeDeg,
    lowCutHz: LOW_CUT_HZ[voice.role],
    muted: voice.muted || finding.leftOut,
  };
}

/** What a strip takes at most, dB. */
const MOST_GAIN_DB = 40;
