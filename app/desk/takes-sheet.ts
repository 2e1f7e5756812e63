import { basename } from 'node:path';
import type { KeptPlan } from '../../core/session/kept-plan.ts';
import type { Placement } from '../../core/session/schema.ts';
import { readScore } from '../score/read-score.ts';
import { usualThreads } from '../work/pool.ts';
import { type AssignRule, assignClips, type NamedVoice, noClips } from './assignment.ts';
import { attemptsOf, severalIn } from './attempts.ts';
import { guideFileOf, keptPlanOf } from './guide-file.ts';
import { type Judged, type JudgedVoice, judgeAttempts } from './judge-attempts.ts';
import { lineUpTaken } from './line-up-taken.ts';
import { exactness, isUnplaced, placedWords } from './placement.ts';
import { withScratch } from './scratch.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';

export interface TakesSheetOptions {
  readonly clips: readonly string[];
  /** Which clip is of which voice; by name when absent. */
  readonly rule?: AssignRule | undefined;
  /** Voices whose clips are named by hand. */
  readonly byHand?: readonly NamedVoice[] | undefined;
  /** The takes that a clip holds are compared with one another. */
  readonly apart?: boolean | undefined;
  /** Timing and pitch are measured too: a second for some 3 min of sound. */
  readonly played?: boolean | undefined;
  /** MIDI or MusicXML to hold them against; absent: the guide's, where it has one. */
  readonly score?: string | undefined;
  /** What was heard while recording; without it takes are placed against one another. */
  readonly guide?: string | undefined;
  readonly signal?: AbortSignal;
  /** Called at each step with its name; the function it gives takes fractions 0 to 1. */
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** One take on the sheet. Levels that cannot be given are null. */
export interface SheetTake {
  readonly file: string;
  readonly name: string;
  /** Where it lies in its clip, s; null where it is the whole clip. */
  readonly part: { readonly fromSec: number; readonly toSec: number } | null;
  readonly lengthSec: number;
  readonly peakDbfs: number | null;
  readonly musicLufs: number | null;
  readonly musicSec: number | null;
  readonly noiseDbfs: number | null;
  readonly silenceSec: number | null;
  /** In the take's own time. */
  readonly clapSec: number | null;
  readonly clippedSpots: number;
  /** How its notes scatter in time, ms, and spread in pitch, cents; null where that was not measured, or cannot be. */
  readonly scatterMs: number | null;
  readonly spreadCents: number | null;
  /** Why its pitch cannot be measured; null where it can, and where it was not listened to. */
  readonly noPitch: string | null;
  readonly placement: {
    readonly offsetSec: number;
    readonly exactness: string;
    readonly confidence: number;
    /** Both in words. */
    readonly words: string;
    readonly question: string | null;
  } | null;
  /** Where its takes begin, s, where the clip seems to hold several. */
  readonly takesAtSec: readonly number[];
  /** What speaks against it, the worst first. */
  readonly flaws: readonly string[];
  readonly notes: readonly string[];
}

/** The takes of all voices, and which of each is proposed. */
export interface TakesSheet {
  readonly voices: readonly {
    readonly voice: string;
    readonly takes: readonly SheetTake[];
    readonly best: { readonly file: string; readonly name: string; readonly reason: string } | null;
  }[];
}

/** Gives clips to voices, looks at each take and proposes the best of each voice; makes nothing. */
export function takesSheet(options: TakesSheetOptions): Promise<TakesSheet> {
  const { signal, onStep } = options;
  const voices = assignClips(options.clips, options.rule ?? { by: 'name' }, options.byHand);
  const clips = voices.flatMap((voice) => voice.clips);
  if (clips.length === 0) throw noClips();
  return withScratch(Math.min(clips.length, usualThreads()), async (cache, pool) => {
    const score = options.score === undefined ? undefined : await readScore(options.score);
    const listening = { signal, onProgress: onStep(`Listening to ${clips.length === 1 ? 'the clip' : 'the clips'}`) };
    const { takes: taken, guide } = await takeInWithGuide(clips, options.guide, cache, pool, listening);
    const { file, notes } = await guideFileOf(guide);
    const plan = keptPlanOf(file);
    const attempts = await attemptsOf(voices, taken, options.apart === true, cache, pool, { signal, plan });
    const takes = attempts.map((attempt) => attempt.taken);
    const lining = { signal, plan, onProgress: onStep('Lining up') };
    const found = await lineUpTaken(takes, guide, cache, pool, lining);
    const isAlone = takes.length === 1 && guide === undefined;
    const judged = await judgeAttempts(
      attempts,
      found.map((placement) => ({ placement: isAlone ? null : placement, found: placement })),
      cache,
      pool,
      {
        signal,
        onStep,
        plan,
        ...(options.played === true
          ? { played: { score: score ?? file?.score, plan: score === undefined ? file?.plan : undefined } }
          : {}),
      },
    );
    return { voices: judged.map((voice, index) => sheetVoice(voices[index]!.name, voice, notes, plan)) };
  });
}

/** A voice on the sheet. notes: said of each of its takes. */
export function sheetVoice(
  voice: string,
  { takes, best }: JudgedVoice,
  notes: readonly string[],
  plan: KeptPlan | null,
): TakesSheet['voices'][number] {
  const proposed = takes.find(({ facts }) => facts.takeId === best?.takeId);
  return {
    voice,
    takes: takes.map((take) => sheetTake(take, notes, plan)),
    best:
      best === null || proposed === undefined
        ? null
        : { file: basename(proposed.attempt.taken.file), name: proposed.attempt.name, reason: best.reason },
  };
}

/**
 * Where the clap is that the line-up heard, s of the take, else the sharpest sound before the music; null where the place is a question and
 * no clap speaks for it, since that says that there is none.
 */
function clapHeard(placement: Placement | null, sharpestSec: number | null): number | null {
  const clap = placement?.evidence.find(({ kind }) => kind === 'clap');
  if (clap !== undefined) return clap.takeSec;
  return placement !== null && placement.question !== null ? null : sharpestSec;
}

function sheetTake(
  { attempt, placement, figures, facts, worth }: Judged,
  notes: readonly string[],
  plan: KeptPlan | null,
): SheetTake {
  const { taken } = attempt;
  return {
    file: basename(taken.file),
    name: attempt.name,
    part: attempt.part,
    lengthSec: taken.lengthFrames / taken.rateHz,
    peakDbfs: figures.peakDbfs,
    musicLufs: facts.musicLufs,
    musicSec: facts.musicSec,
    noiseDbfs: facts.noiseDbfs,
    silenceSec: figures.silenceSec,
    clapSec: clapHeard(placement, figures.clapSec),
    clippedSpots: facts.clippedSpots,
    scatterMs: facts.scatterMs,
    spreadCents: facts.spreadCents,
    noPitch: facts.noPitch ?? null,
    placement:
      placement === null || isUnplaced(placement)
        ? null
        : {
            offsetSec: placement.offsetSec,
            exactness: exactness(placement),
            confidence: placement.confidence,
            words: placedWords(placement),
            question: placement.question,
          },
    takesAtSec: severalIn(taken, plan).map(({ beginsSec }) => beginsSec),
    flaws: worth.flaws.toSorted((one, other) => other.weight - one.weight).map((flaw) => flaw.words),
    notes: [...attempt.notes, ...notes],
  };
}
