import { create } from 'zustand';

/** A note of the report in hand: its voice, and its number among that voice's notes. */
export interface NoteInHand {
  readonly voiceId: string;
  readonly at: number;
}

/** The parts of the bench, one of which is shown. */
export type BenchPart = 'together' | 'voices' | 'timing' | 'notes' | 'mend';

/** What of the report is in hand, on the bench and in the lanes alike. */
export interface IntonationInHand {
  readonly part: BenchPart;
  readonly note: NoteInHand | null;
  /** Number among the worst chords of the one marked in the lanes. */
  readonly chord: number;
}

export const useIntonation = create<IntonationInHand>(() => ({ part: 'together', note: null, chord: 0 }));
