import type { IntonationReport } from '../../../core/pitch/intonation.ts';
import type { PitchVerdict } from '../../../core/pitch/pitch-verdict.ts';
import type { TimingReport } from '../../../core/pitch/timing.ts';
import type { Mend } from '../../../core/session/schema.ts';
import type { CallInput } from './calls.ts';
import type { FaultView } from './desk-view.ts';

/** What notes are held against, as the user chose. */
export type IntonationChoice = Readonly<CallInput<'listenToPitch'>>;

/** How a voice could be heard. */
export interface HeardVoiceView {
  /** The voice's id in the session. */
  readonly id: string;
  readonly name: string;
  readonly verdict: PitchVerdict;
  /** Part of the score it plays; null without a score, or where none fits. */
  readonly part: string | null;
  readonly notesHeard: number;
  /** Notes of the part, and how many of them were measured; null without a part. */
  readonly notesWritten: number | null;
  readonly notesMatched: number | null;
  /** See `VoiceTuning`; absent where an older Partsong listened. */
  readonly shiftHalfTones?: number;
  readonly wrongNotes?: readonly {
    readonly bar: number | null;
    readonly sec: number;
    readonly writtenKey: number;
    readonly heardKey: number;
  }[];
}

/** How the voices are in tune and in time. Ids are those of voices; times are the session's. */
export interface PitchReportView {
  readonly choice: IntonationChoice;
  readonly voices: readonly HeardVoiceView[];
  /** What notes and times are held against: the score of the guide, or the keys and the other voices. */
  readonly against: 'guide' | 'score' | 'keys';
  /** Null where no pitch was found. */
  readonly intonation: IntonationReport | null;
  /** Null where there is nothing to hold times against. */
  readonly timing: TimingReport | null;
  /** What was mended, by take id, as it is reckoned with here; absent where an older Partsong listened. */
  readonly mends?: Readonly<Record<string, Mend>>;
  /** What the guide's tuning tone was, Hz; null without a guide of ours. */
  readonly guideReferenceHz: number | null;
  readonly notes: readonly string[];
}

/** The newest listening to the pitch. */
export interface IntonationView {
  /** 'stale': takes, places or guide are others now than they were when the report was made. */
  readonly state: 'working' | 'current' | 'stale' | 'faulty';
  readonly fault: FaultView | null;
  /** While it works: the report before; null when there is none. */
  readonly report: PitchReportView | null;
}
