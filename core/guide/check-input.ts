import type { NoiseLine } from '../noise/profile.ts';
import type { FoldReason } from '../signal/fold.ts';
import type { CheckCurves, LevelCurves } from './check-meter.ts';

/** What the figures of a take are made of. Times are seconds of the take. */
export interface FigureInput {
  readonly curves: LevelCurves;
  /** Silences found, best first; empty when there is none. */
  readonly silences: readonly { readonly fromSec: number; readonly toSec: number }[];
  /** Level where the noise was learnt, dBFS; null without a silence. */
  readonly noiseDbfs: number | null;
  readonly humHz: number | null;
  /** The sound most likely to be the clap: where, and how like one, 0 to 1. */
  readonly clap: { readonly atSec: number; readonly likeness: number } | null;
  /** Reverberation time by the clap, s. */
  readonly echoSec: number | null;
  /** Level of the guide as the take hears it from the headphones, dBFS; null where none is heard or there is no guide. */
  readonly bleedDbfs: number | null;
}

/** What is known of a trial take. */
export interface CheckInput extends FigureInput {
  readonly curves: CheckCurves;
  /** Why no silence was found; null when one was. */
  readonly noSilence: 'all music' | 'too short' | 'holds music' | 'digital silence' | null;
  readonly lines: readonly NoiseLine[];
  /** Samples cut off by the recorder, outside the clap; null when the take is not clipped. */
  readonly clippedSamples: number | null;
  readonly musicFromSec: number | null;
  readonly fold: FoldReason;
  readonly digitalSilenceSec: number;
}
