import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Cache } from '../../../app/desk/cache.ts';
import type { KeyedSound } from '../../../app/desk/measure-taken.ts';
import { pitchRow, trackTaken } from '../../../app/desk/track-taken.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import { SoundFileWriter } from '../../../app/work/sound-file.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { cleanFolders, freshFolder } from './desk-kit.ts';

cleanFolders();

const RATE_HZ = 16000;

/** A pool that counts how often a pitch is followed, and how often two at once. */
class CountingPool extends WorkPool {
  followed: string[] = [];
  override runAll: WorkPool['runAll'] = (task, requests, options) => {
    if (task === 'trackPitch') this.followed.push(...requests.map((one) => (one as { curvePath: string }).curvePath));
    return super.runAll(task, requests, options);
  };
}

function toneOf(folder: string, key: string, hz: number): KeyedSound {
  const soundPath = join(folder, `${key}.f32`);
  const writer = new SoundFileWriter(soundPath);
  writer.write(Float32Array.from({ length: 2 * RATE_HZ }, (_, n) => 0.3 * Math.sin((2 * Math.PI * hz * n) / RATE_HZ)));
  writer.close();
  return { key, soundPath, rateHz: RATE_HZ };
}

describe('following the pitch of sounds', () => {
  it('writes one pitch once where two ask for it at a time, and gives both the same', async () => {
    const folder = freshFolder();
    const cache = new Cache(join(folder, 'caches'));
    const pool = new CountingPool(0);
    const [one, other] = [toneOf(folder, 'one', 220), toneOf(folder, 'other', 330)];
    const [first, second] = await Promise.all([
      trackTaken([one, one], cache, pool),
      trackTaken([other, one], cache, pool),
    ]);
    expect(pool.followed).toHaveLength(2);
    expect(new Set(pool.followed).size).toBe(2);
    expect(second[1]).toEqual(first[0]);
    const { hz } = pitchRow(one, first[0]!, cache);
    expect(Math.abs(1200 * Math.log2(hz[hz.length >> 1]! / 220))).toBeLessThan(2);
  });

  it('goes on by itself where the one it waited for was stopped, and stops waiting when it is to stop itself', async () => {
    const folder = freshFolder();
    const cache = new Cache(join(folder, 'caches'));
    const pool = new CountingPool(0);
    const sound = toneOf(folder, 'one', 220);
    const stop = new AbortController();
    const [stopped, kept] = [
      trackTaken([sound], cache, pool, { signal: stop.signal }),
      trackTaken([sound], cache, pool),
    ];
    stop.abort();
    await expect(stopped).rejects.toBeInstanceOf(CancelledError);
    expect((await kept)[0]!.verdict.kind).toBe('pitched');
    expect(pool.followed).toHaveLength(2);
    const away = new AbortController();
    const fresh = toneOf(folder, 'two', 220);
    const [working, waiting] = [
      trackTaken([fresh], cache, pool),
      trackTaken([fresh], cache, pool, { signal: away.signal }),
    ];
    away.abort();
    await expect(waiting).rejects.toBeInstanceOf(CancelledError);
    expect(await working).toHaveLength(1);
    expect(pool.followed).toHaveLength(3);
  });
});
