/** A note of the score as a voice should play it: monophonic, in time order. */
export interface ExpectedNote {
  /** On the session's clock where a guide fixes it, else on the score's own, s. */
  readonly atSec: number;
  readonly endSec: number;
  /** MIDI key, and its pitch in the session's temperament with A4 = 440 Hz, cents above A4. */
  readonly key: number;
  readonly cents: number;
  /** Number of the bar as players count; null where there are no bars. */
  readonly bar: number | null;
}

/** A note of the score with what was heard of it. Times on the session's clock, s. */
export interface MatchedNote {
  readonly expected: ExpectedNote;
  readonly fromSec: number;
  readonly toSec: number;
  /** When it is heard to begin; null where its beginning was not found by itself (tied over by the player). */
  readonly onsetSec: number | null;
  readonly onsetUncertaintySec: number;
  /** Sounding pitch, cents above A4 = 440 Hz (the shift of the whole voice taken out), and against the expected pitch at 440. */
  readonly cents: number;
  readonly offCents: number;
  readonly spreadCents: number;
  readonly uncertaintyCents: number;
}
