import type { HeardNote } from '../../core/pitch/heard-notes.ts';
import { clockCents } from '../../core/pitch/match-voice.ts';
import type { PitchRow } from '../../core/pitch/pitch-span.ts';
import type { TrackedPitch } from '../../core/pitch/tracked-pitch.ts';
import { takeAt } from '../../core/session/passages.ts';
import type { Passage } from '../../core/session/schema.ts';
import { type Clock, driftPpmAt, sessionSecOf, takeSecOf } from '../../core/signal/clock.ts';

/** A take whose pitch was followed and whose place is known. */
export interface PlacedPitch {
  readonly takeId: string;
  readonly tracked: TrackedPitch;
  readonly row: PitchRow;
  readonly place: Clock;
}

/** How surely a whole of passages is known is how surely its worst take is. */
const VERDICTS = ['silent', 'unpitched', 'several', 'unsure', 'pitched'] as const;

/**
 * The pitch of a voice made of passages, on the session's own clock: of each take what sounds. A note belongs to the passage
 * its middle lies in. takes: not empty; passages of other takes stay without pitch.
 */
export function composedPitch(
  takes: readonly PlacedPitch[],
  passages: readonly Passage[],
): { readonly tracked: TrackedPitch; readonly row: PitchRow } {
  const { hopSec } = takes[0]!.row;
  const ends = takes.map(({ row, place }) => ({
    fromSec: sessionSecOf(place, row.firstSec),
    toSec: sessionSecOf(place, row.firstSec + row.hz.length * row.hopSec),
  }));
  const firstSec = Math.min(...ends.map(({ fromSec }) => fromSec));
  const frames = Math.max(1, Math.ceil((Math.max(...ends.map(({ toSec }) => toSec)) - firstSec) / hopSec));
  const hz = new Float64Array(frames).fill(Number.NaN);
  for (let n = 0; n < frames; n++) {
    const sec = firstSec + n * hopSec;
    const id = takeAt(passages, sec);
    const take = takes.find(({ takeId }) => takeId === id);
    if (take === undefined) continue;
    const { row, place } = take;
    const takeSec = takeSecOf(place, sec);
    const at = Math.round((takeSec - row.firstSec) / row.hopSec);
    hz[n] = (row.hz[at] ?? Number.NaN) * (1 + driftPpmAt(place, takeSec) * 1e-6);
  }
  const notes = takes
    .flatMap(({ takeId, tracked, place }) =>
      tracked.notes
        .map((note) => onSessionClock(note, place))
        .filter((note) => takeAt(passages, 0.5 * (note.fromSec + note.toSec)) === takeId),
    )
    .sort((one, other) => one.fromSec - other.fromSec);
  const verdict = takes
    .map(({ tracked }) => tracked.verdict)
    .reduce((worst, one) => (VERDICTS.indexOf(one.kind) < VERDICTS.indexOf(worst.kind) ? one : worst));
  return { tracked: { hopSec, firstSec, frames, verdict, notes }, row: { hopSec, firstSec, hz } };
}

function onSessionClock(note: HeardNote, place: Clock): HeardNote {
  return {
    ...note,
    fromSec: sessionSecOf(place, note.fromSec),
    toSec: sessionSecOf(place, note.toSec),
    onsetSec: sessionSecOf(place, note.onsetSec),
    hz: note.hz * (1 + driftPpmAt(place, note.fromSec) * 1e-6),
    cents: note.cents + clockCents(place, note.fromSec),
  };
}
