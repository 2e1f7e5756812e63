import type { Score, SoundFamily } from '../../../core/guide/score.ts';
import type { SoundCheck } from '../../../core/guide/sound-check.ts';
import type { FaultView } from './desk-view.ts';
import type { GuideChoice } from './guide-choice.ts';

/** A score as the page needs it: everything that a guide is planned from, and its parts without their notes. */
export interface ScoreView {
  readonly file: string;
  readonly score: Omit<Score, 'parts'> & { readonly parts: readonly PartView[] };
}

export interface PartView {
  readonly name: string;
  readonly sound: SoundFamily;
  readonly noteCount: number;
  /** MIDI key numbers; null without notes. */
  readonly lowestKey: number | null;
  readonly highestKey: number | null;
}

/** The newest guide that was made. Paths are full. */
export interface MadeGuideView {
  readonly folder: string;
  readonly title: string;
  readonly files: readonly {
    readonly path: string;
    readonly what: 'sound' | 'picture' | 'plan';
    /** Whose guide it is; null: all voices alike. */
    readonly voice: string | null;
    readonly sizeBytes: number;
  }[];
  readonly lengthSec: number;
  readonly bars: number;
  readonly notes: readonly string[];
  readonly choice: GuideChoice;
  /** It is the guide of the session as it is now. */
  readonly inUse: boolean;
}

/** A clip that was given to the sound check, or a take of the session. */
export interface TrialView {
  readonly id: string;
  readonly name: string;
  readonly file: string;
  /** The take of the session that it is; null for a trial that is none. */
  readonly takeId: string | null;
  readonly state: 'working' | 'checked' | 'faulty';
  readonly fault: FaultView | null;
  readonly check: SoundCheck | null;
  readonly lengthSec: number | null;
  /** Whether the guide was found in it, so that bleed could be measured; null without a guide. */
  readonly guideFound: boolean | null;
  /** What was mended or noticed while it was read. */
  readonly notes: readonly string[];
}
