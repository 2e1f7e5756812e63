import type { GuidePlan } from '../../core/guide/guide-plan.ts';
import type { Score } from '../../core/guide/score.ts';
import type { TakeFigures } from '../../core/session/take-worth.ts';
import { type TrackedVoice, type TuneFindings, tuneFindings } from './tune-report.ts';

/** A take whose pitch was followed, and which voice it is of. */
export interface HeardTake {
  readonly voice: number | string;
  readonly track: TrackedVoice;
}

/** Fewer notes than this tell nothing of how they scatter. */
const LEAST_NOTES = 8;

/**
 * How the notes of each take scatter in time (ms, robust standard deviation about its own mean, against the guide's times, or the
 * middle of the other voices), and how they spread in pitch (cents, the same about its own centre). Each take is held against the
 * first take of every other voice, since two takes of one voice are not to be taken for an ensemble. Pure.
 */
export function playedFigures(
  takes: readonly HeardTake[],
  against: { readonly score: Score | undefined; readonly plan: GuidePlan | undefined },
): Pick<TakeFigures, 'scatterMs' | 'spreadCents'>[] {
  const firsts = takes.filter((take, n) => takes.findIndex(({ voice }) => voice === take.voice) === n);
  const findingsOf = (ensemble: readonly HeardTake[]): TuneFindings =>
    tuneFindings(
      ensemble.map(({ track }) => track),
      { ...against, referenceHz: null, temperament: 'equal', tonic: 0 },
    );
  // The first takes are one ensemble: what is found serves them all.
  let together: TuneFindings | undefined;
  return takes.map((take) => {
    if (take.track.tracked.notes.length < LEAST_NOTES) return { scatterMs: null, spreadCents: null };
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
    };
  });
}
