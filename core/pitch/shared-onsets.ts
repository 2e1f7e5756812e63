import { UNCLEAR_SEC } from './onset-time.ts';
import { medianOf } from './pitch-span.ts';
import type { TunedVoice } from './tuned-note.ts';
import { FEWEST_NOTES } from './voice-timing.ts';

/** Without a score: onsets within this are meant to be together, s. */
const TOGETHER_SEC = 0.09;
/** With one: notes whose written times differ by less, s. */
const SAME_SEC = 0.001;
/** An onset that is farther off is another note or a slip, s. */
export const FARTHEST_SEC = 0.4;

/** Where a note of a voice was heard to begin; voice: its index. */
export interface Onset {
  readonly voice: number;
  readonly sec: number;
  readonly bar: number | null;
  readonly expectedSec: number | null;
  readonly uncertaintySec: number;
}

/** The notes that say when they began; all, where too few of them do. */
function timedNotes({ notes }: TunedVoice): TunedVoice['notes'] {
  const begun = notes.filter((note) => note.onsetSec !== null);
  const clear = begun.filter((note) => note.onsetUncertaintySec < UNCLEAR_SEC);
  return clear.length >= FEWEST_NOTES ? clear : begun;
}

/** All beginnings that were heard, voice by voice. */
export function onsetsOf(voices: readonly TunedVoice[]): Onset[] {
  return voices.flatMap((voice, index) =>
    timedNotes(voice).flatMap((note): Onset[] =>
      note.onsetSec === null
        ? []
        : [
            {
              voice: index,
              sec: note.onsetSec,
              bar: note.bar,
              expectedSec: note.expectedSec,
              uncertaintySec: note.onsetUncertaintySec,
            },
          ],
    ),
  );
}

/** Onsets that belong together, of at least two voices. */
export function groupsOf(onsets: readonly Onset[]): Onset[][] {
  const written = onsets.every((onset) => onset.expectedSec !== null);
  const timeOf = (onset: Onset): number => (written ? onset.expectedSec! : onset.sec);
  const sorted = [...onsets].sort((a, b) => timeOf(a) - timeOf(b));
  const groups: Onset[][] = [];
  for (const onset of sorted) {
    const group = groups.at(-1);
    const near = group !== undefined && timeOf(onset) - timeOf(group[0]!) < (written ? SAME_SEC : TOGETHER_SEC);
    if (near && !group.some((one) => one.voice === onset.voice)) group.push(onset);
    else groups.push([onset]);
  }
  return groups
    .map((group) => {
      const middle = medianOf(group.map((one) => one.sec));
      return group.filter((one) => Math.abs(one.sec - middle) <= FARTHEST_SEC);
    })
    .filter((group) => group.length > 1);
}
