import { basename } from 'node:path';
import type { GuidePlan } from '../../core/guide/guide-plan.ts';
import type { Score } from '../../core/guide/score.ts';
import type { PlacementReport } from '../../core/session/report.ts';
import type { Placement } from '../../core/session/schema.ts';
import type { Tuning } from '../../core/session/score-notes.ts';
import type { TrackedVoice, TuneFindings } from '../../core/session/tune-report.ts';
import { clockOf } from '../../core/signal/clock.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { readScore } from '../score/read-score.ts';
import { usualThreads } from '../work/pool.ts';
import { type GuideFile, guideFileBeside, keptPlanOf } from './guide-file.ts';
import { keptTuning } from './kept-tuning.ts';
import { lineUpTaken } from './line-up-taken.ts';
import { uniqueNames, voiceNameOf } from './names.ts';
import { isUnplaced, placementReport } from './placement.ts';
import { withScratch } from './scratch.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';
import { pitchRow, trackTaken } from './track-taken.ts';

export interface TuneClipsOptions extends Tuning {
  readonly clips: readonly string[];
  /** MIDI or MusicXML; absent: the score of the guide, where it has one, else the keys of the temperament. */
  readonly score?: string | undefined;
  /** What was heard while playing; with its `.guide.json` beside it times are held against it. */
  readonly guide?: string | undefined;
  /** A4, Hz; null for the ensemble's own. */
  readonly referenceHz: number | null;
  readonly signal?: AbortSignal;
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** How clips are in tune and in time. */
export interface TuneReport extends TuneFindings {
  readonly takes: readonly {
    readonly file: string;
    readonly voice: string;
    /** Null for a single clip without a guide: nothing to be lined up with. */
    readonly placement: PlacementReport | null;
    readonly notes: readonly string[];
  }[];
  /** What the guide's tuning tone was, Hz; null without a guide of ours. */
  readonly guideReferenceHz: number | null;
}

/** Said wherever notes have helped to place a take. */
const MOVED =
  'The line-up moves a take that is early or late all through, by its notes; the timing tells what is left after that.';

/** Lines clips up, follows their pitch and holds them against the score; makes nothing. Throws PartsongError or CancelledError. */
export async function tuneClips(options: TuneClipsOptions): Promise<TuneReport> {
  const { clips, signal, onStep } = options;
  const file = options.guide === undefined ? undefined : await guideFileBeside(options.guide);
  const piece = await pieceOf(options.score, file);
  return withScratch(usualThreads(), async (cache, pool) => {
    const listening = { signal, onProgress: onStep('Listening to the takes') };
    const { takes, guide } = await takeInWithGuide(clips, options.guide, cache, pool, listening);
    const alone = takes.length === 1 && guide === undefined;
    const lining = { signal, plan: piece.kept, onProgress: onStep('Lining up') };
    const placements: readonly (Placement | null)[] = alone
      ? [null]
      : await lineUpTaken(takes, guide, cache, pool, lining);
    const tracked = await trackTaken(takes, cache, pool, { signal, onProgress: onStep('Following the pitch') });
    const names = uniqueNames(takes.map((take) => voiceNameOf(take.file)));
    const voices = takes.map((take, index) => ({
      id: String(index),
      name: names[index]!,
      tracked: tracked[index]!,
      row: pitchRow(take, tracked[index]!, cache),
      place: alone ? { offsetSec: 0, driftPpm: 0, uncertaintySec: 0 } : placeOf(placements[index]!),
    }));
    const against = { ...options, score: piece.score, plan: piece.plan, guideReferenceHz: piece.referenceHz };
    const { value: findings } = await keptTuning(voices, against, cache, pool, { signal });
    const byNotes = placements.some((place) => place?.evidence.some((one) => one.kind === 'onsets' && one.accepted));
    return {
      ...findings,
      notes: byNotes && findings.timing !== null ? [...findings.notes, MOVED] : findings.notes,
      takes: takes.map((take, index) => ({
        file: basename(take.file),
        voice: names[index]!,
        placement: placements[index] == null ? null : placementReport(placements[index]),
        notes: take.notes,
      })),
      guideReferenceHz: piece.referenceHz,
    };
  });
}

export interface Piece {
  readonly score: Score | undefined;
  readonly plan: GuidePlan | undefined;
  readonly kept: ReturnType<typeof keptPlanOf>;
  readonly referenceHz: number | null;
}

/** The score, and the guide's plan where its times are those of this score. score: a file; guide: what lies beside the guide. */
export async function pieceOf(score: string | undefined, file: GuideFile | undefined): Promise<Piece> {
  const named = score === undefined ? undefined : await readScore(score);
  if (named?.parts.every((part) => part.notes.length === 0) === true) {
    throw new PartsongError(
      'score-unreadable',
      `${score} holds no notes.`,
      'Name a score with the parts that were played, or leave --score out.',
      score,
    );
  }
  const isSame = named === undefined || (file !== undefined && named.lengthQuarters === file.score.lengthQuarters);
  return {
    score: named ?? file?.score,
    plan: isSame ? file?.plan : undefined,
    kept: keptPlanOf(file),
    referenceHz: file?.settings.referenceHz ?? null,
  };
}

function placeOf(placement: Placement | null): TrackedVoice['place'] {
  if (placement === null || isUnplaced(placement)) return null;
  return { ...clockOf(placement), uncertaintySec: placement.uncertaintySec };
}
