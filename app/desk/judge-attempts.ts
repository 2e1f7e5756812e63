import type { SoundCheck } from '../../core/guide/sound-check.ts';
import type { KeptPlan } from '../../core/session/kept-plan.ts';
import type { Played, PlayedAgainst } from '../../core/session/played-figures.ts';
import type { Placement } from '../../core/session/schema.ts';
import {
  judgeTakes,
  proposeTake,
  spotsBesideClap,
  type TakeFigures,
  type TakeProposal,
  type TakeWorth,
} from '../../core/session/take-worth.ts';
import { clockOf } from '../../core/signal/clock.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { Attempt } from './attempts.ts';
import { findMusic, type MusicFound } from './blend.ts';
import type { Cache } from './cache.ts';
import { keptFigures } from './kept-tuning.ts';
import { measureTaken } from './measure-taken.ts';
import { isUnplaced } from './placement.ts';
import { figuresOfTaken, type KnownFigures } from './sound-figures.ts';
import { pitchRow, trackTaken } from './track-taken.ts';

/** A take with all that is known of it. */
export interface Judged {
  readonly attempt: Attempt;
  /** null: nothing to be placed against. */
  readonly placement: Placement | null;
  readonly figures: SoundCheck['figures'];
  readonly facts: TakeFigures;
  readonly worth: TakeWorth;
}

/** The takes of a voice, and which is proposed: its place among all takes; null for a single take and where none can be used. */
export interface JudgedVoice {
  readonly takes: readonly Judged[];
  readonly best: (TakeProposal & { readonly index: number }) | null;
}

export interface JudgeOptions {
  readonly signal?: AbortSignal | undefined;
  readonly onStep: (step: string) => (fraction: number) => void;
  /** Of the guide they were played to: tells where the music lies. */
  readonly plan?: KeptPlan | null | undefined;
  /** Whether timing and pitch are measured too, which costs the most; against the score and the guide where they are known. */
  readonly played?: PlayedAgainst | undefined;
}

/**
 * Looks at takes and judges them voice by voice. placements: one a take, in order; null where there is nothing to be placed against.
 * musicIn: where its music is looked for then.
 */
export async function judgeAttempts(
  attempts: readonly Attempt[],
  placements: readonly { readonly placement: Placement | null; readonly found: Placement }[],
  cache: Cache,
  pool: WorkPool,
  options: JudgeOptions,
): Promise<JudgedVoice[]> {
  const { signal, onStep } = options;
  const running = (step: string): RunOptions => ({
    ...(signal === undefined ? {} : { signal }),
    onProgress: onStep(step),
  });
  const takes = attempts.map(({ taken }) => taken);
  const known = await figuresOfTaken(takes, cache, pool, running('Measuring loudness, noise and claps'));
  // They were measured with the rest, but at rates at which that is not possible.
  const loudness = await measureTaken(takes, cache, pool, running('Measuring'));
  const played =
    options.played === undefined
      ? attempts.map(() => ({ scatterMs: null, spreadCents: null }))
      : await listened(attempts, placements, cache, pool, options.played, running('Following the pitch'));
  const facts = attempts.map((attempt, index): TakeFigures => {
    const { placement, found } = placements[index]!;
    const music = findMusic(loudness[index]!, found, options.plan ?? null);
    return { ...figuresOf(index, attempt, music, placement, known[index]!), ...played[index]! };
  });
  const voices = Math.max(0, ...attempts.map(({ voice }) => voice + 1));
  return Array.from({ length: voices }, (_, voice) => {
    const own = attempts.flatMap((attempt, index) => (attempt.voice === voice ? [index] : []));
    const ownFacts = own.map((index) => facts[index]!);
    const worths = judgeTakes(ownFacts);
    const best = proposeTake(
      ownFacts,
      worths,
      own.map((index) => attempts[index]!.name),
    );
    return {
      takes: own.map((index, n) => ({
        attempt: attempts[index]!,
        placement: placements[index]!.placement,
        figures: known[index]!.check,
        facts: facts[index]!,
        worth: worths[n]!,
      })),
      best: best === null ? null : { ...best, index: Number(best.takeId) },
    };
  });
}

async function listened(
  attempts: readonly Attempt[],
  placements: readonly { readonly placement: Placement | null }[],
  cache: Cache,
  pool: WorkPool,
  against: PlayedAgainst,
  options: RunOptions,
): Promise<Played[]> {
  const takes = attempts.map(({ taken }) => taken);
  const tracked = await trackTaken(takes, cache, pool, options);
  const heard = attempts.map(({ name, taken, voice }, index) => {
    const { placement } = placements[index]!;
    const place =
      placement === null || isUnplaced(placement)
        ? null
        : { ...clockOf(placement), uncertaintySec: placement.uncertaintySec };
    const row = pitchRow(taken, tracked[index]!, cache);
    return { voice, track: { id: String(index), name, tracked: tracked[index]!, row, place } };
  });
  return (await keptFigures(heard, against, cache, pool, options)).value;
}

function figuresOf(
  index: number,
  { isBrokenOff, mark }: Attempt,
  { integratedLufs, music }: MusicFound,
  placement: Placement | null,
  { check: { clapSec, noiseDbfs }, clipped }: KnownFigures,
): TakeFigures {
  const heard = spotsBesideClap(clipped, clapSec ?? undefined);
  return {
    takeId: String(index),
    isThere: true,
    mark: mark ?? (isBrokenOff ? 'no' : 'none'),
    musicLufs: Number.isFinite(integratedLufs) ? integratedLufs : null,
    noiseDbfs,
    clippedSpots: heard.length,
    clippedSec: heard.reduce((sum, spot) => sum + spot.toSec - spot.fromSec, 0),
    musicSec: music === undefined ? null : music.toSec - music.fromSec,
    musicFromSec: music?.fromSec ?? null,
    confidence: placement?.confidence ?? null,
    asks: placement !== null && placement.question !== null,
    scatterMs: null,
    spreadCents: null,
  };
}
