import { existsSync } from 'node:fs';
import type { Span } from '../../core/session/schema.ts';
import { secondsToFrames } from '../../core/signal/time.ts';
import { notesOfPart } from '../media/audio-facts.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { CutPartResult } from '../work/tasks/cut-part.ts';
import { Cache } from './cache.ts';
import { STEP_VERSION } from './steps.ts';
import type { TakenIn } from './take-in.ts';

/** Frames of a clip that a part holds, and the key under which its sound is kept; undefined where it is the whole clip. */
export interface PartPlace {
  readonly key: string;
  readonly fromFrame: number;
  readonly toFrame: number;
}

/** Where a part lies in a clip. Ends outside the clip are brought to its ends. */
export function partPlace(clip: TakenIn, part: Span | null): PartPlace | undefined {
  if (part === null) return undefined;
  const frame = (sec: number): number => Math.max(0, Math.min(clip.lengthFrames, secondsToFrames(sec, clip.rateHz)));
  const fromFrame = frame(part.fromSec);
  const toFrame = frame(part.toSec);
  if (fromFrame === 0 && toFrame === clip.lengthFrames) return undefined;
  return { key: Cache.keyOf('part', STEP_VERSION.part, clip.key, fromFrame, toFrame), fromFrame, toFrame };
}

/** A stretch of a clip that is to be a take; null: the whole clip. */
export interface PartWish {
  readonly clip: TakenIn;
  readonly part: Span | null;
}

/**
 * Takes as if each were a clip of its own, cut to the frame from what was taken in: nothing is decoded again. Those cut before
 * come from the cache. Throws PartsongError 'too-short' | 'digital-silence'.
 */
export async function cutParts(
  wishes: readonly PartWish[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<TakenIn[]> {
  const fresh = new Map<string, { readonly clip: TakenIn; readonly place: PartPlace }>();
  for (const { clip, part } of wishes) {
    const place = partPlace(clip, part);
    if (place !== undefined && cutBefore(clip, place, cache) === undefined) fresh.set(place.key, { clip, place });
  }
  const cuts = [...fresh.values()];
  const results = await pool.runAll(
    'cutPart',
    cuts.map(({ clip, place }) => ({
      file: clip.file,
      clipSoundPath: clip.soundPath,
      rateHz: clip.rateHz,
      fromFrame: place.fromFrame,
      toFrame: place.toFrame,
      soundPath: cache.soundPath(place.key),
      tracePath: `${cache.soundPath(place.key)}.trace`,
    })),
    options,
  );
  cuts.forEach(({ place }, index) => {
    cache.keep(place.key, results[index]);
  });
  return wishes.map(({ clip, part }) => {
    const place = partPlace(clip, part);
    return place === undefined ? clip : cutBefore(clip, place, cache)!;
  });
}

/** A part that was cut before; undefined when it was not. */
export function cutBefore(clip: TakenIn, place: PartPlace, cache: Cache): TakenIn | undefined {
  const { key, fromFrame, toFrame } = place;
  const cut = cache.record<CutPartResult>(key);
  const soundPath = cache.soundPath(key);
  if (cut === undefined || !existsSync(soundPath)) return undefined;
  return {
    ...clip,
    ...cut,
    key,
    soundPath,
    tracePath: `${soundPath}.trace`,
    several: [],
    notes: notesOfPart(clip.notes, clip.endsApart, fromFrame / clip.rateHz, toFrame / clip.rateHz),
    partOf: { clip, fromFrame, toFrame },
  };
}
