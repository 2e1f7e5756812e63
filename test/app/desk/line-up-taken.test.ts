import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Cache } from '../../../app/desk/cache.ts';
import { lineUpTaken } from '../../../app/desk/line-up-taken.ts';
import { type TakenIn, takeInClips } from '../../../app/desk/take-in.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import type { LineUpRequest } from '../../../app/work/tasks/line-up.ts';
import { WaveFileWriter } from '../../../app/work/wave-file.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import type { Sound } from '../../../core/signal/sound.ts';
import { inventGuide, inventTake } from '../../core/lineup/invented-session.ts';
import { cleanFolders, freshFolder } from './desk-kit.ts';

cleanFolders();

/** A pool that tells how many takes it lined up each time. */
class CountingPool extends WorkPool {
  lined: number[] = [];
  override run: WorkPool['run'] = (task, request, options) => {
    if (task === 'lineUp') this.lined.push((request as LineUpRequest).takes.length);
    return super.run(task, request, options);
  };
}

interface Bench {
  readonly cache: Cache;
  readonly pool: CountingPool;
  readonly guide: TakenIn;
  readonly other: TakenIn;
  readonly takes: readonly TakenIn[];
}

/** Two guides and two takes of the first, taken in. */
async function bench(): Promise<Bench> {
  const folder = freshFolder();
  const [cache, pool] = [new Cache(join(folder, 'caches')), new CountingPool(0)];
  const write = (name: string, sound: Sound): string => {
    const samples = new Float32Array(sound.lengthFrames);
    sound.read(0, samples);
    const path = join(folder, `${name}.wav`);
    const writer = new WaveFileWriter(path, { format: 'float32', channels: 1, rateHz: sound.rateHz });
    writer.write([samples]);
    writer.finish();
    return path;
  };
  const guide = inventGuide(11, 14);
  const plan = { noteSpreadSec: 0.02, clapsSec: [2.5], noise: 0.002, bleed: 0 };
  const files = [
    write('guide', guide.sound),
    write('other', inventGuide(12, 14).sound),
    write('one', inventTake(guide, { ...plan, seed: 1, truth: { leadSec: 1.2, driftPpm: 20 } })),
    write('two', inventTake(guide, { ...plan, seed: 2, truth: { leadSec: 3.4, driftPpm: -20 } })),
  ];
  const [first, second, ...takes] = await takeInClips(files, cache, pool);
  return { cache, pool, guide: first!, other: second!, takes };
}

describe('lining up takes of the cache', () => {
  it('lines up against a guide only what was not lined up before, and gives the same again from the disk', async () => {
    const { cache, pool, guide, takes } = await bench();
    const [one] = await lineUpTaken(takes.slice(0, 1), guide, cache, pool);
    const both = await lineUpTaken(takes, guide, cache, pool);
    expect(pool.lined).toEqual([1, 1]);
    expect(both[0]).toEqual(one);
    // 15 ms: a clap by hand and scattered notes.
    expect(both.map(({ offsetSec }, n) => Math.abs(offsetSec + [1.2, 3.4][n]!) < 0.015)).toEqual([true, true]);
    const again = await lineUpTaken(takes.toReversed(), guide, new Cache(cache.folder), pool);
    expect(pool.lined).toEqual([1, 1]);
    expect(again.toReversed()).toEqual(JSON.parse(JSON.stringify(both)));
  });

  it('lines up anew against another guide, for one whose plan is known, and where it is asked to', async () => {
    const { cache, pool, guide, other, takes } = await bench();
    const plan: KeptPlan = {
      lengthFrames: 24 * 48000,
      silence: { fromFrame: 0, toFrame: 2 * 48000 },
      cues: [{ beatFrames: [2 * 48000], clapFrame: 2.5 * 48000, toFrame: 4 * 48000, at: 'start' }],
      countInFrame: 4 * 48000,
      musicFrame: 6.4 * 48000,
      musicEndFrame: 20.4 * 48000,
      bars: [],
      voices: ['flute'],
    };
    await lineUpTaken(takes, guide, cache, pool);
    await lineUpTaken(takes, other, cache, pool);
    await lineUpTaken(takes, guide, cache, pool, { plan });
    await lineUpTaken(takes, guide, cache, pool, { anew: true });
    expect(pool.lined).toEqual([2, 2, 2, 2]);
    await lineUpTaken(takes, guide, cache, pool);
    await lineUpTaken(takes, guide, cache, pool, { plan });
    expect(pool.lined).toEqual([2, 2, 2, 2]);
  });

  it('keeps takes lined up against one another as a whole: one more and all are asked again', async () => {
    const { cache, pool, guide, takes } = await bench();
    const found = await lineUpTaken(takes, undefined, cache, pool);
    expect(await lineUpTaken(takes, undefined, cache, pool)).toEqual(JSON.parse(JSON.stringify(found)));
    expect(pool.lined).toEqual([2]);
    await lineUpTaken([...takes, guide], undefined, cache, pool);
    expect(pool.lined).toEqual([2, 3]);
  });

  it('keeps nothing of a line-up that was stopped', async () => {
    const { cache, pool, guide, takes } = await bench();
    const before = readdirSync(cache.folder);
    const stop = new AbortController();
    stop.abort();
    await expect(lineUpTaken(takes, guide, cache, pool, { signal: stop.signal })).rejects.toBeInstanceOf(
      CancelledError,
    );
    expect(readdirSync(cache.folder)).toEqual(before);
  });
});
