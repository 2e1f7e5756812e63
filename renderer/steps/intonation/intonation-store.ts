import { create } from 'zustand';

/** A note of the report in hand: its voice, and its number among that voice's notes. */
export interface NoteInHand {
  readonly voiceId: string;
  readonly at: number;
}

/** What of the report is in hand, on the bench and in the lanes alike. */
export interface IntonationInHand {
  readonly note: NoteInHand | null;
  /** Number among the worst chords of the one marked in the lanes. */
  readonly chord: number;
}

export const useIntonation = create<IntonationInHand>(() => ({ note: null, chord: 0 }));
