import type { GuideSettings } from '../../core/guide/guide-plan.ts';
import type { Temperament } from '../../core/guide/temperament.ts';
import type { AskedHold, Ritardando } from '../../core/guide/tempo-marks.ts';

export type GuideFormat = 'wav' | 'flac' | 'm4a' | 'mp3' | 'mp4';

/** What guides are asked for. */
export interface MakeGuideOptions {
  /** MIDI or MusicXML; absent: a click over `bars` bars. */
  readonly score?: string | undefined;
  readonly outFolder: string;
  readonly title?: string | undefined;
  /** Quarters per minute; absent: what the score says, else 90. */
  readonly quartersPerMinute?: number | undefined;
  /** Changes of tempo and fermatas beside those of the score. */
  readonly ritardandi?: readonly Ritardando[];
  readonly holds?: readonly AskedHold[];
  readonly metre: { readonly beats: number; readonly unit: number };
  readonly bars: number;
  readonly settings: GuideSettings;
  readonly temperament: Temperament;
  readonly tonic: number;
  readonly clickDb: number;
  readonly droneKey: number | null;
  /** 'all': one guide a voice and one for all; part of a voice's name: that voice's; absent: one guide. */
  readonly forVoice?: string | undefined;
  /** Takes recorded already that sound in place of the mock-up of a voice (part of its name). */
  readonly with?: readonly { readonly voice: string; readonly clip: string }[];
  /** A session whose chosen takes sound in place of the mock-up of the voices of the same names; its score serves without another. */
  readonly session?: string | undefined;
  /** How the player's own voice sounds among the others, dB; -Infinity leaves it out. */
  readonly ownDb: number;
  readonly formats: readonly GuideFormat[];
  readonly signal: AbortSignal;
  readonly onStep: (step: string) => (fraction: number) => void;
}
