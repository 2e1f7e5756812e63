import type { Cancel } from '../signal/fault.ts';
import { type Alignment, alignNotes, sessionSecAt } from './align-notes.ts';
import type { ExpectedNote, MatchedNote } from './expected-note.ts';
import { type HeardVoice, readPart, sessionNotes, type WrongNote } from './match-voice.ts';
import { isSkipped } from './score-skips.ts';

/** A part of the score, its notes one at a time in time order. */
export interface ScorePart {
  readonly name: string;
  readonly notes: readonly ExpectedNote[];
}

/** A voice to be matched. placed: whether its place on the session's clock is sure. */
export interface NamedVoice extends HeardVoice {
  readonly name: string;
  readonly placed: boolean;
}

/** What a voice played; null where it fits no part. */
export interface VoiceMatch {
  /** Index of the part. */
  readonly part: number;
  readonly alignment: Alignment;
  readonly notes: readonly MatchedNote[];
  readonly wrong: readonly WrongNote[];
}

/** A voice that costs more for each note of its part plays something else. */
const WORST_COST = 0.75;
/** A part that bears the voice's name is preferred to one that fits as much better. */
const NAME_BONUS = 0.3;
/** A part that is played as written, or in another octave, is preferred to one that would be played in another key. */
const SHIFT_MALUS = 0.2;

/**
 * Finds which part each voice plays, by its name and by how well its notes fit, and matches it. With a guide the score's times
 * are the session's; without one the voice that fits best fixes the score's time for all placed voices, which then have to
 * fit it. Several voices may play one part (takes of it). With a guide or a leader the expected times in the matches are session
 * times, and their alignments keep the clock as it is. Throws CancelledError.
 */
export function matchEnsemble(
  voices: readonly NamedVoice[],
  parts: readonly ScorePart[],
  clockKnown: boolean,
  cancel?: Cancel,
): (VoiceMatch | null)[] {
  if (clockKnown) return voices.map((voice) => bestPart(voice, parts, voice.placed, cancel));
  const alone = voices.map((voice) => bestPart(voice, parts, false, cancel));
  let leader: VoiceMatch | undefined;
  for (const [index, match] of alone.entries()) {
    const better = match !== null && (leader === undefined || match.alignment.cost < leader.alignment.cost);
    if (better && voices[index]!.placed) leader = match;
  }
  if (leader === undefined) return alone;
  const sessionSecOf = clockOf(leader);
  const timed = parts.map((part) => ({
    name: part.name,
    // What the leader passed over, as a repeat, all passed over.
    notes: part.notes
      .filter((note) => !isSkipped(leader.alignment.skips, note))
      .map((note) => ({ ...note, atSec: sessionSecOf(note.atSec), endSec: sessionSecOf(note.endSec) })),
  }));
  return voices.map((voice, index) => {
    if (!voice.placed) return alone[index]!;
    return bestPart(voice, timed, true, cancel) ?? alone[index]!;
  });
}

function bestPart(
  voice: NamedVoice,
  parts: readonly ScorePart[],
  clockKnown: boolean,
  cancel?: Cancel,
): VoiceMatch | null {
  const session = sessionNotes(voice);
  let best: { readonly part: number; readonly alignment: Alignment } | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (const [part, { name, notes }] of parts.entries()) {
    if (notes.length === 0) continue;
    const alignment = alignNotes(session, notes, clockKnown, cancel);
    const shift = alignment.halfTones % 12 === 0 ? 0 : SHIFT_MALUS;
    const cost = alignment.cost + shift - (sharesName(voice.name, name) ? NAME_BONUS : 0);
    if (alignment.cost > WORST_COST || cost >= least) continue;
    least = cost;
    best = { part, alignment };
  }
  // Only what it plays is read: to read all parts cost as much as to find the right one.
  return best === undefined ? null : { ...best, ...readPart(voice, session, parts[best.part]!.notes, best.alignment) };
}

/** Whether one name holds the other, or they share a word of three letters and more. */
function sharesName(a: string, b: string): boolean {
  const words = (name: string): string[] =>
    name
      .normalize('NFC')
      .toLowerCase()
      .split(/[^\p{L}\p{N}]+/u)
      .filter((word) => word.length > 2);
  const others = words(b);
  return words(a).some((word) => others.includes(word));
}

/** Session time of a score time: through the leader's matched notes, straight between them. */
function clockOf(leader: VoiceMatch): (scoreSec: number) => number {
  const { stretch } = leader.alignment;
  const points = leader.notes
    .filter((note) => note.onsetSec !== null)
    .map((note) => [note.expected.atSec, note.fromSec] as const);
  const straight = (sec: number): number => sessionSecAt(leader.alignment, sec);
  if (points.length < 2) return straight;
  return (sec) => {
    // Matched notes are in the order of the score.
    let [after, end] = [0, points.length];
    while (after < end) {
      const middle = (after + end) >> 1;
      if (points[middle]![0] >= sec) end = middle;
      else after = middle + 1;
    }
    if (after === 0) return points[0]![1] + stretch * (sec - points[0]![0]);
    if (after === points.length) return points.at(-1)![1] + stretch * (sec - points.at(-1)![0]);
    const [x0, y0] = points[after - 1]!;
    const [x1, y1] = points[after]!;
    return x1 - x0 < 1e-9 ? y1 : y0 + ((y1 - y0) * (sec - x0)) / (x1 - x0);
  };
}
