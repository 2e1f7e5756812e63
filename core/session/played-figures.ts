import type { GuidePlan } from '../guide/guide-plan.ts';
import type { Score } from '../guide/score.ts';
import { type AstrayStretch, astrayStretches } from '../pitch/astray.ts';
import { plainCentre } from '../pitch/ensemble-pitch.ts';
import type { ExpectedNote } from '../pitch/expected-note.ts';
import { clockCents } from '../pitch/match-voice.ts';
import type { PitchVerdict } from '../pitch/pitch-verdict.ts';
import { timingSpreads } from '../pitch/timing.ts';
import { sessionSecOf } from '../signal/clock.ts';
import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { TakeFigures } from './take-worth.ts';
import { timedAgainst } from './tune-report.ts';
import { type MatchedVoices, type TrackedVoice, VoiceMatcher } from './voice-matcher.ts';

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
export type Played = Pick<TakeFigures, 'scatterMs' | 'spreadCents' | 'noPitch' | 'astray'>;

const EQUAL = { temperament: 'equal', tonic: 0 } as const;

/** Fewer notes than this tell nothing of how they scatter. */
const LEAST_NOTES = 8;

/**
 * How the notes of each take scatter in time (ms, robust standard deviation about its own mean, against the guide's times, or the
 * middle of the other voices), and how they spread in pitch (cents, the same about its own centre), or why that cannot be told. Each take is held against the
 * first take of every other voice, since two takes of one voice are not to be taken for an ensemble. Where a guide tells the times of
 * written notes: also which stretches lie elsewhere, as after a wrong entry. Pure. Throws CancelledError.
 */
export function playedFigures(takes: readonly HeardTake[], against: PlayedAgainst, cancel?: Cancel): Played[] {
  const firsts = takes.filter((take, n) => takes.findIndex(({ voice }) => voice === take.voice) === n);
  const matcher = new VoiceMatcher({ ...against, ...EQUAL, referenceHz: null }, cancel);
  const figuresOf = (ensemble: readonly HeardTake[]): EnsembleFigures => {
    throwIfCancelled(cancel);
    const { tuned, placed } = matcher.match(ensemble.map(({ track }) => track));
    const timed = timedAgainst(placed, against);
    return { tuned, timing: timed === null ? [] : timingSpreads(placed, timed) };
  };
  // The first takes are one ensemble: what is found serves them all.
  let together: EnsembleFigures | undefined;
  const parts = matcher.clockKnown ? matcher.parts.map(({ notes }) => notes) : [];
  return takes.map((take) => {
    const noPitch = noPitchOf(take.track.tracked.verdict);
    if (take.track.tracked.notes.length < LEAST_NOTES) {
      return { scatterMs: null, spreadCents: null, noPitch, astray: [] };
    }
    const isFirst = firsts.includes(take);
    if (isFirst) together ??= figuresOf(firsts);
    const others = firsts.filter(({ voice }) => voice !== take.voice);
    const { timing, tuned } = isFirst && together !== undefined ? together : figuresOf([take, ...others]);
    const { id } = take.track;
    const timed = timing.find((voice) => voice.id === id);
    const notes = tuned.find((voice) => voice.id === id)?.notes ?? [];
    return {
      scatterMs: timed !== undefined && timed.notes >= LEAST_NOTES ? timed.spreadMs : null,
      spreadCents: notes.length >= LEAST_NOTES ? plainCentre(notes).spread : null,
      noPitch,
      astray: astrayOf(take.track, parts, cancel),
    };
  });
}

function noPitchOf({ kind, sentence }: PitchVerdict): string | null {
  return kind === 'pitched' || kind === 'unsure' ? null : sentence;
}

type EnsembleFigures = Pick<MatchedVoices, 'tuned'> & { readonly timing: ReturnType<typeof timingSpreads> };

function astrayOf(
  { tracked, place }: TrackedVoice,
  parts: readonly (readonly ExpectedNote[])[],
  cancel: Cancel | undefined,
): AstrayStretch[] {
  if (place === null || parts.length === 0 || tracked.verdict.kind !== 'pitched') return [];
  const heard = tracked.notes.map(({ fromSec, toSec, cents }) => ({
    fromSec: sessionSecOf(place, fromSec),
    toSec: sessionSecOf(place, toSec),
    cents: cents + clockCents(place, fromSec),
  }));
  return astrayStretches(heard, parts, cancel);
}
