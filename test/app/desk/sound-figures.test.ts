import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Cache } from '../../../app/desk/cache.ts';
import { measureTaken } from '../../../app/desk/measure-taken.ts';
import { figuresOfTaken } from '../../../app/desk/sound-figures.ts';
import { heardOf, type TakenIn, takeInClips } from '../../../app/desk/take-in.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import { WaveFileWriter } from '../../../app/work/wave-file.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { makeTake } from '../../core/noise/take-signals.ts';
import { cleanFolders, freshFolder } from './desk-kit.ts';

cleanFolders();

const SEED = 77;

/** A pool that counts what it is asked for. */
class CountingPool extends WorkPool {
  asked: string[] = [];
  override runAll: WorkPool['runAll'] = (task, requests, options) => {
    this.asked.push(...requests.map(() => task));
    return super.runAll(task, requests, options);
  };
}

/** Two takes that were taken in; the tops of the second are cut off. */
async function takesIn(folder: string, cache: Cache, pool: WorkPool): Promise<TakenIn[]> {
  const files = [2, 0.5].map((most, n) => {
    const { take, rateHz } = makeTake({ seed: SEED });
    const file = join(folder, `take ${n + 1}.wav`);
    const writer = new WaveFileWriter(file, { format: 'float32', channels: 1, rateHz });
    writer.write([take.map((sample) => Math.max(-most, Math.min(most, 8 * sample)))]);
    writer.finish();
    return file;
  });
  return takeInClips(files, cache, pool);
}

describe('figures of takes', () => {
  it(`says of each what measuring, checking and drawing it say, and of a cut take where (seed ${SEED})`, async () => {
    const folder = freshFolder();
    const cache = new Cache(join(folder, 'caches'));
    const pool = new WorkPool(0);
    const takes = await takesIn(folder, cache, pool);
    const figures = await figuresOfTaken(takes, cache, pool);
    expect(takes.map(({ study }) => study.clip !== null)).toEqual([false, true]);
    for (const [n, take] of takes.entries()) {
      const { soundPath, rateHz, study, fold } = take;
      const apart = { soundPath, rateHz, study, heard: heardOf(take), fold: fold.reason, guideKnocksSec: [] };
      const check = await pool.run('checkTake', apart);
      expect(figures[n]!.check).toEqual(check.figures);
      expect(check.figures.noiseDbfs).toBeLessThan(-20);
      const drawn = await pool.run('drawWave', {
        ...{ soundPath, rateHz, levelFrames: [65536], target: join(folder, 'drawn') },
        clipThreshold: study.clip?.threshold ?? null,
      });
      expect(figures[n]!.clipped).toEqual(drawn.clipped);
      const loudness = await pool.run('measureTake', { soundPath, rateHz });
      expect(await measureTaken([take], cache, new CountingPool(0))).toEqual([loudness]);
    }
    expect(figures[0]!.clipped).toHaveLength(0);
    expect(figures[1]!.clipped.length).toBeGreaterThan(0);
  });

  it('reads no take twice: neither again nor for its loudness', async () => {
    const folder = freshFolder();
    const cache = new Cache(join(folder, 'caches'));
    const pool = new CountingPool(0);
    const takes = await takesIn(folder, cache, pool);
    const first = await figuresOfTaken(takes, cache, pool);
    const loudness = await measureTaken(takes, cache, pool);
    pool.asked = [];
    expect(await figuresOfTaken(takes, cache, pool)).toEqual(first);
    expect(await measureTaken(takes, cache, pool)).toEqual(loudness);
    expect(pool.asked).toEqual([]);
    // One whose record is damaged is read anew, and alone.
    writeFileSync(join(cache.folder, `${Cache.keyOf('soundFigures', 1, takes[1]!.key)}.json`), '{');
    expect(await figuresOfTaken(takes, cache, pool)).toEqual(first);
    expect(pool.asked).toEqual(['soundFigures']);
  });

  it('ends when it is stopped, and keeps nothing of what was not read to its end', async () => {
    const folder = freshFolder();
    const cache = new Cache(join(folder, 'caches'));
    const pool = new CountingPool(0);
    const takes = await takesIn(folder, cache, pool);
    const stop = new AbortController();
    const stopped = figuresOfTaken(takes, cache, pool, { signal: stop.signal });
    stop.abort();
    await expect(stopped).rejects.toBeInstanceOf(CancelledError);
    pool.asked = [];
    await figuresOfTaken(takes, cache, pool);
    expect(pool.asked).toEqual(['soundFigures', 'soundFigures']);
  });
});
