import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { ClipPicture } from '../../../core/picture/clip-picture.ts';
import { probe } from '../../media/probe.ts';
import { clipPictureOf } from '../../picture/clip-picture-facts.ts';
import { makeProxy, playsInPage } from '../../picture/proxy.ts';
import { Cache } from '../cache.ts';
import { STEP_VERSION } from '../steps.ts';
import type { TakenIn } from '../take-in.ts';
import { type Bench, use } from './bench.ts';
import type { Standing } from './ledger.ts';
import type { ClipProgress } from './take-state.ts';

/** What is known of the moving picture of a clip. */
export interface PictureFacts {
  readonly clip: ClipPicture;
  readonly codec: string;
}

/** How far the work on a clip's picture has come. */
export interface PictureProgress extends PictureFacts {
  readonly plays: boolean;
  readonly proxy: 'waiting' | 'working' | 'ready' | 'stopped' | 'failed';
  readonly proxyFault: unknown;
  /** Where the small copy lies once it is there. */
  readonly proxyPath: string | undefined;
}

/** Which pictures the page wants to show. */
export interface PictureWish {
  /** Pictures are to be shown at all, so that small copies are worth making. */
  readonly isShown: boolean;
  /** Takes whose clips do not play in the page. */
  readonly cannotPlay: ReadonlySet<string>;
}

/**
 * Asks for what is known of a clip's picture and, where pictures are shown, for a small copy of it; undefined without one.
 * Every clip gets a copy: a browser keeps many large ones in step no better than it keeps any that has sound in it.
 */
export function needPicture(
  bench: Bench,
  take: ClipProgress & { readonly clip?: TakenIn | undefined },
  wish: PictureWish,
): PictureProgress | undefined {
  // Takes that are parts of one clip share its picture, which is told of in the clip's time.
  const clip = { ...take, taken: take.clip ?? take.taken };
  const { taken } = clip;
  if (taken === undefined || !taken.hasPicture) return undefined;
  const facts = needFacts(bench, clip, taken);
  if (facts === undefined) return undefined;
  const plays = !wish.cannotPlay.has(clip.id) && playsInPage(facts.clip, facts.codec);
  const { standing, path } = needProxy(bench, clip, taken, facts.clip, wish.isShown);
  return {
    ...facts,
    plays,
    proxy: stateOf(standing),
    proxyFault: standing?.state === 'fault' ? standing.fault : null,
    proxyPath: standing?.state === 'done' ? path : undefined,
  };
}

/** The facts of a clip's picture; null where it has none. The clip is looked into only where the cache does not know. */
export async function pictureFacts(cache: Cache, taken: TakenIn, signal: AbortSignal): Promise<PictureFacts | null> {
  const key = factsKey(taken);
  const known = cache.record<PictureFacts | null>(key);
  if (known !== undefined) return atFile(known, taken.file);
  const facts = await probe(taken.file, signal);
  const clip = clipPictureOf(facts);
  const lengthSec = taken.lengthFrames / taken.rateHz;
  const found =
    clip === null
      ? null
      : {
          clip: { ...clip, endSec: Number.isFinite(clip.endSec) ? clip.endSec : lengthSec },
          codec: facts.video?.codec ?? '',
        };
  cache.keep(key, found);
  return found;
}

function factsKey(taken: TakenIn): string {
  return Cache.keyOf('picture', STEP_VERSION.picture, taken.key);
}

/** Two takes of one clip share what is known; each has its own path. */
function atFile(facts: PictureFacts | null, file: string): PictureFacts | null {
  return facts === null ? null : { ...facts, clip: { ...facts.clip, file } };
}

function needFacts(bench: Bench, clip: ClipProgress, taken: TakenIn): PictureFacts | undefined {
  const key = factsKey(taken);
  use(bench, key);
  const known = (): PictureFacts | null | undefined => bench.cache.record<PictureFacts | null>(key);
  // A clip that is gone cannot be looked into.
  if (clip.look !== 'there') return atFile(known() ?? null, taken.file) ?? undefined;
  const looked = bench.ledger.need<PictureFacts | null>({
    key: `picture:${key}`,
    stage: 'picture',
    after: `takeIn:${taken.key}`,
    known,
    run: (signal) => pictureFacts(bench.cache, taken, signal),
  });
  return looked.state === 'done' ? (atFile(looked.value, taken.file) ?? undefined) : undefined;
}

function needProxy(
  bench: Bench,
  clip: ClipProgress,
  taken: TakenIn,
  picture: ClipPicture,
  isShown: boolean,
): { standing: Standing<true> | undefined; path: string } {
  const key = Cache.keyOf('proxy', STEP_VERSION.proxy, taken.key);
  const path = join(bench.cache.folder, `${key}.mp4`);
  use(bench, key);
  const known = (): true | undefined => (bench.cache.record(key) !== undefined && existsSync(path) ? true : undefined);
  if (!isShown || clip.look !== 'there') {
    return { standing: known() === undefined ? undefined : { state: 'done', value: true }, path };
  }
  const standing = bench.ledger.need<true>({
    key: `proxy:${key}`,
    stage: 'proxy',
    after: `takeIn:${taken.key}`,
    known,
    run: async (signal, onProgress) => {
      await makeProxy(picture, path, signal, onProgress);
      bench.cache.keep(key, { of: taken.fingerprint });
      return true;
    },
  });
  return { standing, path };
}

function stateOf(standing: Standing<true> | undefined): PictureProgress['proxy'] {
  switch (standing?.state) {
    case undefined:
    case 'waiting':
      return 'waiting';
    case 'running':
      return 'working';
    case 'done':
      return 'ready';
    case 'fault':
      return 'failed';
    case 'stopped':
      return 'stopped';
  }
}
