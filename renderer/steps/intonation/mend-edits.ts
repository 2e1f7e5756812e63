import type { PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import type { NoteIntonation } from '../../../core/pitch/intonation.ts';
import { mendCentsAt, type Nudge, unwarpedTakeSec, warpedTakeSec } from '../../../core/pitch/mend.ts';
import { weightedMedian } from '../../../core/pitch/robust-line.ts';
import { heardTakes, soundingPassages, takeAt } from '../../../core/session/passages.ts';
import type { Mend, Session, Take, Voice } from '../../../core/session/schema.ts';
import { type Clock, sessionSecOf, takeSecOf } from '../../../core/signal/clock.ts';

/** From here on a moved voice begins to sound different, cents: its formants move by more than 1 %. */
export const DIFFERENT_CENTS = 20;
/** A nudge that is left shorter than this by another one goes with it, s. */
const SHORTEST_SEC = 0.05;
/** The farthest that mending itself may have moved a stretch since it was selected, s. */
const SAME_SEC = 0.065;

const NOTHING: Mend = { cents: 0, curve: [], nudges: [] };
const UNPLACED: Clock = { offsetSec: 0, driftPpm: 0 };

/** What is to be mended with one part of it changed; null when nothing is left. */
export function withMend(mend: Mend | null, change: Partial<Mend>): Mend | null {
  const next = { ...(mend ?? NOTHING), ...change };
  const isLevel = next.curve.every(({ cents }) => cents === 0);
  const curve = isLevel ? [] : next.curve;
  return next.cents === 0 && curve.length === 0 && next.nudges.length === 0 ? null : { ...next, curve };
}

/** The nudge of a stretch of the take, which mending may have moved a little since. */
export function nudgeOf(mend: Mend | null, span: Pick<Nudge, 'fromSec' | 'toSec'>): Nudge | undefined {
  return mend?.nudges.find(
    ({ fromSec, toSec }) => Math.abs(fromSec - span.fromSec) <= SAME_SEC && Math.abs(toSec - span.toSec) <= SAME_SEC,
  );
}

/** Lets a stretch of the take sound later or earlier; others give way to it. 0 ms: it sounds when it was played. */
export function withNudge(mend: Mend | null, nudge: Nudge): Mend | null {
  const known = nudgeOf(mend, nudge);
  const others = (mend?.nudges ?? []).filter((one) => one !== known);
  if (nudge.byMs === 0) return withMend(mend, { nudges: others });
  const own = {
    fromSec: Math.round(1000 * (known?.fromSec ?? nudge.fromSec)) / 1000,
    toSec: Math.round(1000 * (known?.toSec ?? nudge.toSec)) / 1000,
    byMs: nudge.byMs,
  };
  const cut = others.flatMap((one): Nudge[] =>
    [
      { ...one, toSec: Math.min(one.toSec, own.fromSec) },
      { ...one, fromSec: Math.max(one.fromSec, own.toSec) },
    ].filter(({ fromSec, toSec }) => toSec - fromSec >= SHORTEST_SEC),
  );
  return withMend(mend, { nudges: [...cut, own].sort((one, other) => one.fromSec - other.fromSec) });
}

/** Where a take lies, as far as mending is concerned. */
export interface MendPlace {
  readonly clock: Clock;
  readonly mend: Mend | null;
}

export function mendPlaceOf(take: Take): MendPlace {
  return { clock: take.placement ?? UNPLACED, mend: take.mend };
}

/** A stretch of session time in the take as it was recorded. */
export function recordedSpan(
  { clock, mend }: MendPlace,
  span: Pick<Nudge, 'fromSec' | 'toSec'>,
): Pick<Nudge, 'fromSec' | 'toSec'> {
  const sec = (at: number): number => unwarpedTakeSec(mend, takeSecOf(clock, at));
  return { fromSec: sec(span.fromSec), toSec: sec(span.toSec) };
}

/** When a stretch of the take as it was recorded is heard, session time. */
export function heardSpan(
  { clock, mend }: MendPlace,
  span: Pick<Nudge, 'fromSec' | 'toSec'>,
): Pick<Nudge, 'fromSec' | 'toSec'> {
  const sec = (at: number): number => sessionSecOf(clock, warpedTakeSec(mend, at));
  return { fromSec: sec(span.fromSec), toSec: sec(span.toSec) };
}

/** The notes of a report that a take plays: all of its voice's, or those in its passages. */
export function notesOfTake(
  session: Session,
  voice: Voice,
  take: Take,
  notes: readonly NoteIntonation[],
): readonly NoteIntonation[] {
  const passages = soundingPassages(voice);
  if (passages !== null) {
    return notes.filter(({ fromSec, toSec }) => takeAt(passages, 0.5 * (fromSec + toSec)) === take.id);
  }
  return heardTakes(session, voice).some(({ id }) => id === take.id) ? notes : [];
}

/** What is added to a pitch at a session time since a report was made, cents; null where nothing has changed. */
export function shiftSince(
  session: Session,
  voice: Voice,
  report: Pick<PitchReportView, 'mends'>,
): ((sec: number) => number) | null {
  const { mends } = report;
  if (mends === undefined) return null;
  const moved = heardTakes(session, voice)
    .map((take) => ({ take, was: mends[take.id] ?? null }))
    .filter(({ take, was }) => !samePitch(take.mend, was));
  if (moved.length === 0) return null;
  const passages = soundingPassages(voice);
  return (sec) => {
    const id = passages === null ? moved[0]!.take.id : takeAt(passages, sec);
    const found = moved.find(({ take }) => take.id === id);
    if (found === undefined) return 0;
    const { take, was } = found;
    const takeSec = unwarpedTakeSec(was, takeSecOf(take.placement ?? UNPLACED, sec));
    return centsOf(take.mend, takeSec) - centsOf(was, takeSec);
  };
}

function centsOf(mend: Mend | null, takeSec: number): number {
  return mend === null ? 0 : mendCentsAt(mend, takeSec);
}

function samePitch(one: Mend | null, other: Mend | null): boolean {
  const pitchOf = ({ cents, curve }: Mend): string => JSON.stringify([cents, curve]);
  return pitchOf(one ?? NOTHING) === pitchOf(other ?? NOTHING);
}

/** How a take's notes lie: as they were played, and with what is mended now. */
export interface MendedNote extends Pick<NoteIntonation, 'fromSec' | 'toSec' | 'uncertaintyCents'> {
  readonly playedCents: number;
  readonly offCents: number;
}

/** then: what was mended when the report was made; place: the take as it is now. */
export function mendedOffs(notes: readonly NoteIntonation[], place: MendPlace, then: Mend | null): MendedNote[] {
  return notes.map(({ fromSec, toSec, offCents, uncertaintyCents }) => {
    const takeSec = unwarpedTakeSec(then, takeSecOf(place.clock, 0.5 * (fromSec + toSec)));
    const playedCents = offCents - centsOf(then, takeSec);
    return { fromSec, toSec, uncertaintyCents, playedCents, offCents: playedCents + centsOf(place.mend, takeSec) };
  });
}

/** Middle of notes by their lengths, cents; null for none. */
export function middleOf(notes: readonly MendedNote[], which: 'playedCents' | 'offCents'): number | null {
  if (notes.length === 0) return null;
  return weightedMedian(
    notes.map((note) => note[which]),
    notes.map(({ fromSec, toSec }) => toSec - fromSec),
  );
}

/**
 * The level that a curve takes out, as it was played: at each of these session times cents off the wanted pitch. Lies through
 * the middle of the notes.
 */
export function levelOfCurve(
  curve: Mend['curve'],
  notes: readonly MendedNote[],
  place: MendPlace,
): { readonly sec: number; readonly cents: number }[] {
  const own = { cents: 0, curve, nudges: [] };
  const at = (sec: number): number => mendCentsAt(own, takeSecOf(place.clock, sec));
  const [first, last] = [notes[0], notes.at(-1)];
  if (curve.length === 0 || first === undefined || last === undefined) return [];
  const middle = weightedMedian(
    notes.map(({ fromSec, toSec, playedCents }) => playedCents + at(0.5 * (fromSec + toSec))),
    notes.map(({ fromSec, toSec }) => toSec - fromSec),
  );
  const corners = curve.map(({ atSec }) => sessionSecOf(place.clock, atSec));
  const inside = corners.filter((sec) => sec > first.fromSec && sec < last.toSec);
  return [first.fromSec, ...inside, last.toSec].map((sec) => ({ sec, cents: middle - at(sec) }));
}

/** Where a voice's takes are moved in time: session time, and in words by how much. */
export function movedStretches(
  session: Session,
  voice: Voice,
): { readonly fromSec: number; readonly toSec: number; readonly words: string }[] {
  return heardTakes(session, voice).flatMap((take) => {
    const place = mendPlaceOf(take);
    return (take.mend?.nudges ?? []).map((nudge) => ({
      ...heardSpan(place, nudge),
      words: `${Math.abs(nudge.byMs).toFixed(0)} ms ${nudge.byMs < 0 ? 'earlier' : 'later'}`,
    }));
  });
}
