import { basename, join } from 'node:path';
import type { SoundCheck } from '../../core/guide/sound-check.ts';
import type { Placement, Span } from '../../core/session/schema.ts';
import { judgeTakes, proposeTake, type TakeFigures, type TakeWorth } from '../../core/session/take-worth.ts';
import { type RunOptions, usualThreads, type WorkPool } from '../work/pool.ts';
import { findMusic, type MusicFound } from './blend.ts';
import type { Cache } from './cache.ts';
import { guideFileOf, keptPlanOf } from './guide-file.ts';
import { lineUpTaken } from './line-up-clips.ts';
import { measureTaken } from './measure-taken.ts';
import { bareName, voiceKeyOf, voiceNameOf, withoutAttempt } from './names.ts';
import { exactness, isUnplaced, keptPlacement } from './placement.ts';
import { withScratch } from './scratch.ts';
import type { TakenIn } from './take-in.ts';
import { takeInWithGuide } from './take-in-with-guide.ts';

export interface TakesSheetOptions {
  readonly clips: readonly string[];
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
  readonly lengthSec: number;
  readonly peakDbfs: number | null;
  readonly musicLufs: number | null;
  readonly musicSec: number | null;
  readonly noiseDbfs: number | null;
  readonly silenceSec: number | null;
  readonly clapSec: number | null;
  readonly clippedSpots: number;
  readonly placement: {
    readonly offsetSec: number;
    readonly exactness: string;
    readonly confidence: number;
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
    readonly best: { readonly file: string; readonly reason: string } | null;
  }[];
}

/** Puts clips together into voices by their names, looks at each and proposes the best of each voice; makes nothing. */
export function takesSheet(options: TakesSheetOptions): Promise<TakesSheet> {
  const { clips, signal, onStep } = options;
  return withScratch(Math.min(clips.length, usualThreads()), async (cache, pool) => {
    const listening = { signal, onProgress: onStep(`Listening to ${clips.length === 1 ? 'the clip' : 'the clips'}`) };
    const { takes, guide } = await takeInWithGuide(clips, options.guide, cache, pool, listening);
    const { file, notes } = await guideFileOf(guide);
    const plan = keptPlanOf(file);
    const found = await lineUpTaken(takes, guide, pool, { signal, plan, onProgress: onStep('Lining up') });
    const loudness = await measureTaken(takes, cache, pool, { signal, onProgress: onStep('Measuring') });
    const checks: SoundCheck[] = await pool.runAll(
      'checkTake',
      takes.map(({ soundPath, rateHz, study, fold }) => ({
        soundPath,
        rateHz,
        study,
        fold: fold.reason,
        guideKnocksSec: [],
      })),
      { signal, onProgress: onStep('Looking at noise and claps') },
    );
    const spots = await clippedSpots(takes, cache, pool, { signal });
    const all = takes.map((take, index): Looked => {
      const placement = takes.length === 1 && guide === undefined ? null : keptPlacement(found[index]!);
      const { figures } = checks[index]!;
      const music = findMusic(loudness[index]!, placement ?? keptPlacement(found[index]!));
      const facts = figuresOf(index, music, placement, figures, spots[index]!);
      return { take, placement, figures, facts, notes: [...take.notes, ...notes] };
    });
    const voices = new Map<string, Looked[]>();
    for (const one of all) {
      const key = voiceKeyOf(voiceNameOf(one.take.file));
      voices.set(key, [...(voices.get(key) ?? []), one]);
    }
    return { voices: [...voices.values()].map(voiceOf) };
  });
}

/** All that is known of a clip. */
interface Looked {
  readonly take: TakenIn;
  readonly placement: Placement | null;
  readonly figures: SoundCheck['figures'];
  readonly facts: TakeFigures;
  readonly notes: readonly string[];
}

/** A clap may be cut off without harm: what is so near to it does not count, s. */
const NEAR_CLAP_SEC = 0.4;

/** Stretches in which the recorder cut waves off. */
async function clippedSpots(
  takes: readonly TakenIn[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions,
): Promise<Span[][]> {
  const cut = takes.filter((take) => take.study.clip !== null);
  const drawn = await pool.runAll(
    'drawWave',
    cut.map(({ soundPath, rateHz, key, study }) => ({
      soundPath,
      rateHz,
      levelFrames: [SPOT_FRAMES],
      target: join(cache.folder, `${key}.spots`),
      clipThreshold: study.clip!.threshold,
    })),
    options,
  );
  return takes.map((take) => [...(drawn[cut.indexOf(take)]?.clipped ?? [])]);
}

/** The sheet draws nothing: the coarsest picture is the quickest. */
const SPOT_FRAMES = 65536;

function figuresOf(
  index: number,
  { integratedLufs, music }: MusicFound,
  placement: Placement | null,
  figures: SoundCheck['figures'],
  spots: readonly Span[],
): TakeFigures {
  const { clapSec, noiseDbfs } = figures;
  const heard = spots.filter((spot) => clapSec === null || Math.abs(spot.fromSec - clapSec) > NEAR_CLAP_SEC);
  return {
    takeId: String(index),
    isThere: true,
    mark: 'none',
    musicLufs: Number.isFinite(integratedLufs) ? integratedLufs : null,
    noiseDbfs,
    clippedSpots: heard.length,
    clippedSec: heard.reduce((sum, spot) => sum + spot.toSec - spot.fromSec, 0),
    musicSec: music === undefined ? null : music.toSec - music.fromSec,
    musicFromSec: music?.fromSec ?? null,
    confidence: placement?.confidence ?? null,
    asks: placement !== null && placement.question !== null,
    scatterMs: null,
  };
}

function voiceOf(own: readonly Looked[]): TakesSheet['voices'][number] {
  const facts = own.map((one) => one.facts);
  const worths = judgeTakes(facts);
  const best = proposeTake(
    facts,
    worths,
    own.map(({ take }) => bareName(take.file)),
  );
  const bestOwn = own.find((one) => one.facts.takeId === best?.takeId);
  const name = voiceNameOf(own[0]!.take.file);
  return {
    voice: own.length > 1 ? withoutAttempt(name) : name,
    takes: own.map((one, index) => sheetTake(one, worths[index]!)),
    best: best === null || bestOwn === undefined ? null : { file: basename(bestOwn.take.file), reason: best.reason },
  };
}

function sheetTake({ take, placement, figures, facts, notes }: Looked, { flaws }: TakeWorth): SheetTake {
  return {
    file: basename(take.file),
    name: bareName(take.file),
    lengthSec: take.lengthFrames / take.rateHz,
    peakDbfs: figures.peakDbfs,
    musicLufs: facts.musicLufs,
    musicSec: facts.musicSec,
    noiseDbfs: facts.noiseDbfs,
    silenceSec: figures.silenceSec,
    clapSec: figures.clapSec,
    clippedSpots: facts.clippedSpots,
    placement:
      placement === null || isUnplaced(placement)
        ? null
        : {
            offsetSec: placement.offsetSec,
            exactness: exactness(placement),
            confidence: placement.confidence,
            question: placement.question,
          },
    takesAtSec: take.several.map(({ beginsSec }) => beginsSec),
    flaws: flaws.toSorted((one, other) => other.weight - one.weight).map((flaw) => flaw.words),
    notes,
  };
}
