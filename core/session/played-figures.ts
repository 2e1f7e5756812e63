import type { GuidePlan } from '../guide/guide-plan.ts';
import type { Score } from '../guide/score.ts';
import { type AstrayStretch, astrayStretches } from '../pitch/astray.ts';
import type { ExpectedNote } from '../pitch/expected-note.ts';
import { clockCents } from '../pitch/match-voice.ts';
import { sessionSecOf } from '../signal/clock.ts';
import { scoreParts } from './score-notes.ts';
import type { TakeFigures } from './take-worth.ts';
import { type TrackedVoice, type TuneFindings, tuneFindings } from './tune-report.ts';

/** A take whose pitch was followed, and which voice it is of. */
export interface HeardTake {
  readonly voice: number | string;
  readonly track: TrackedVoice;
}

/** The guide's score and plan, where it has them. */
export interface PlayedAgainst {
  readonly score: Score | undefined;
  readonly plan: GuidePlan | undefined;
}

/** What is measured of how a take was played. */
export type Played = Pick<TakeFigures, 'scatterMs' | 'spreadCents' | 'astray'>;

const EQUAL = { temperament: 'equal', tonic: 0 } as const;

/** Fewer notes than this tell nothing of how they scatter. */
const LEAST_NOTES = 8;

/**
 * How the notes of each take scatter in time (ms, robust standard deviation about its own mean, against the guide's times, or the
 * middle of the other voices), and how they spread in pitch (cents, the same about its own centre). Each take is held against the
 * first take of every other voice, since two takes of one voice are not to be taken for an ensemble. Where a guide tells the times of
 * written notes: also which stretches lie elsewhere, as after a wrong entry. Pure.
 */
export function playedFigures(takes: readonly HeardTake[], against: PlayedAgainst): Played[] {
  const firsts = takes.filter((take, n) => takes.findIndex(({ voice }) => voice === take.voice) === n);
  const findingsOf = (ensemble: readonly HeardTake[]): TuneFindings =>
    tuneFindings(
      ensemble.map(({ track }) => track),
      { ...against, ...EQUAL, referenceHz: null },
    );
  // The first takes are one ensemble: what is found serves them all.
  let together: TuneFindings | undefined;
  const { score, plan } = against;
  const isWritten = score !== undefined && plan !== undefined;
  const parts = isWritten ? scoreParts(score, EQUAL, plan).parts.map(({ notes }) => notes) : [];
  return takes.map((take) => {
    if (take.track.tracked.notes.length < LEAST_NOTES) return { scatterMs: null, spreadCents: null, astray: [] };
    const isFirst = firsts.includes(take);
    if (isFirst) together ??= findingsOf(firsts);
    const others = firsts.filter(({ voice }) => voice !== take.voice);
    const { timing, intonation } = isFirst && together !== undefined ? together : findingsOf([take, ...others]);
    const { id } = take.track;
    const timed = timing?.voices.find((voice) => voice.id === id);
    const tuned = intonation?.voices.find((voice) => voice.id === id);
    return {
      scatterMs: timed !== undefined && timed.notes.length >= LEAST_NOTES ? timed.spreadMs : null,
      spreadCents: tuned !== undefined && tuned.notes.length >= LEAST_NOTES ? tuned.spreadCents : null,
      astray: astrayOf(take.track, parts),
    };
  });
}

function astrayOf({ tracked, place }: TrackedVoice, parts: readonly (readonly ExpectedNote[])[]): AstrayStretch[] {
  if (place === null || parts.length === 0 || tracked.verdict.kind !== 'pitched') return [];
  const heard = tracked.notes.map(({ fromSec, toSec, cents }) => ({
    fromSec: sessionSecOf(place, fromSec),
    toSec: sessionSecOf(place, toSec),
    cents: cents + clockCents(place, fromSec),
  }));
  return astrayStretches(heard, parts);
}
