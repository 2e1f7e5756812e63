import { copyFileSync, mkdtempSync, readdirSync, rmSync, truncateSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Cache } from '../../../app/desk/cache.ts';
import { Desk } from '../../../app/desk/desk.ts';
import { refuseTargets } from '../../../app/desk/source-guard.ts';
import { takeInClips } from '../../../app/desk/take-in.ts';
import { findFfmpeg } from '../../../app/media/ffmpeg.ts';
import { runFfmpeg } from '../../../app/media/run.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import { makeBenchTake } from '../../bench/bench-take.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-cache-'));
const clip = join(folder, 'take.flac');
const pool = new WorkPool(0);

beforeAll(async () => {
  const wave = join(folder, 'take.wav');
  makeBenchTake({ path: wave, lengthSec: 6, seed: 3, pitchHz: 262, startSec: 3 });
  await runFfmpeg(await findFfmpeg(), ['-nostdin', '-y', '-i', wave, clip]);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('a cache entry', () => {
  it.each(['.f32', '.f32.trace', '.json'])(
    'whose %s was cut short is made anew, to the same result',
    async (ending) => {
      const cache = new Cache(join(folder, `cut${ending}`));
      const first = await takeInClips([clip], cache, pool);
      for (const name of readdirSync(cache.folder)) {
        if (name.endsWith(ending)) truncateSync(join(cache.folder, name), 100);
      }
      expect(cache.record(first[0]!.key)).toBeUndefined();
      expect(await takeInClips([clip], cache, pool)).toEqual(first);
    },
  );

  it('that holds another record than was kept counts as none', () => {
    const cache = new Cache(join(folder, 'other'));
    for (const text of ['{}', 'null', '[]', '"x"']) {
      writeFileSync(join(cache.folder, 'key.json'), text);
      expect(cache.record('key'), text).toBeUndefined();
    }
  });

  it('is not used for a clip that was changed since, even between the pieces that are hashed', async () => {
    const cache = new Cache(join(folder, 'changed'));
    const changed = join(folder, 'changed.flac');
    copyFileSync(clip, changed);
    const [before] = await takeInClips([changed], cache, pool);
    utimesSync(changed, new Date(), new Date(Date.now() + 5000));
    const [after] = await takeInClips([changed], cache, pool);
    expect(after!.key).not.toBe(before!.key);
  });

  it('never finished is removed when the session is opened by one that holds it alone', async () => {
    const home = join(folder, 'swept');
    const desk = await Desk.begin(home, 'Swept', { pool: new WorkPool(0) });
    const left = ['key.f32.0123abcd.part', 'key.f32.decoded.part'];
    for (const name of [...left, 'key.f32', 'key.json']) writeFileSync(join(desk.cache.folder, name), 'x');
    await desk.close();
    await (await Desk.open(home, { pool: new WorkPool(0) })).close();
    expect(readdirSync(desk.cache.folder).sort()).toEqual(['key.f32', 'key.json']);
  });

  it('is one a clip where a clip and its copy are taken in together', async () => {
    const cache = new Cache(join(folder, 'copies'));
    const takes = await takeInClips([clip, clip], cache, pool);
    expect(takes[0]!.soundPath).not.toBe(takes[1]!.soundPath);
  });
});

describe('targets', () => {
  it('that are the clip, under its own or another name, or one another, are refused', async () => {
    const hidden = join(folder, '.', 'cut', '..', 'take.flac');
    for (const targets of [[clip], [hidden], [join(folder, 'x.wav'), join(folder, 'X.wav')]]) {
      await expect(refuseTargets(targets, [clip])).rejects.toMatchObject({ code: 'bad-option' });
    }
    await expect(refuseTargets([join(folder, 'x.wav')], [clip])).resolves.toBeUndefined();
  });
});
