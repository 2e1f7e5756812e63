import type { NoiseLine } from '../noise/profile.ts';
import type { FoldReason } from '../signal/fold.ts';
import type { CheckCurves } from './check-meter.ts';

/** What is known of a trial take. Times are seconds of the take. */
export interface CheckInput {
  readonly curves: CheckCurves;
  /** Silences found, best first; empty when there is none. */
  readonly silences: readonly { readonly fromSec: number; readonly toSec: number }[];
  /** Why none was found; null when one was. */
  readonly noSilence: 'all music' | 'too short' | 'holds music' | 'digital silence' | null;
  /** Level where the noise was learnt, dBFS; null without a silence. */
  readonly noiseDbfs: number | null;
  readonly lines: readonly NoiseLine[];
  readonly humHz: number | null;
  /** Samples cut off by the recorder, outside the clap; null when the take is not clipped. */
  readonly clippedSamples: number | null;
  /** The sound most likely to be the clap: where, and how like one, 0 to 1. */
  readonly clap: { readonly atSec: number; readonly likeness: number } | null;
  readonly musicFromSec: number | null;
  /** Reverberation time by the clap, s. */
  readonly echoSec: number | null;
  readonly fold: FoldReason;
  readonly digitalSilenceSec: number;
  /** Level of the guide as the take hears it from the headphones, dBFS; null where none is heard or there is no guide. */
  readonly bleedDbfs: number | null;
}
