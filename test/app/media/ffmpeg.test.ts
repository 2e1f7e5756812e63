import { chmodSync, existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { delimiter, join } from 'node:path';
import { afterAll, describe, expect, test, vi } from 'vitest';
import { describeFfmpeg, findFfmpeg, madeExecutable, searchFfmpeg, useFfmpeg } from '../../../app/media/ffmpeg.ts';
import { isOld, lacksOf, namesIn } from '../../../app/media/ffmpeg-needs.ts';
import { KnownFfmpegs, userCacheFolder } from '../../../app/media/known-ffmpeg.ts';
import { probe } from '../../../app/media/probe.ts';
import { makeFolder } from './clip-kit.ts';

const folder = makeFolder();
afterAll(() => folder.remove());

/** A program that answers as FFmpeg does, in a folder of its own. */
function standIn(name: string, script: string): { folder: string; path: string } {
  const place = `${folder.path}/${name}`;
  mkdirSync(place);
  writeFileSync(`${place}/ffmpeg`, `#!/bin/sh\n${script}\n`);
  chmodSync(`${place}/ffmpeg`, 0o755);
  return { folder: place, path: `${place}/ffmpeg` };
}

const good = standIn('good', 'echo "ffmpeg version 7.1 Copyright"');
const broken = standIn('broken', 'exit 3');

describe('the search for FFmpeg', () => {
  test('takes the one the user set, before any other', async () => {
    const { found } = await searchFfmpeg({ PARTSONG_FFMPEG: good.path, PATH: broken.folder });
    expect(found).toEqual({ path: good.path, version: '7.1', origin: 'PARTSONG_FFMPEG' });
  });

  test('does not pass over a broken one the user set', async () => {
    const search = searchFfmpeg({ PARTSONG_FFMPEG: broken.path, PATH: good.folder });
    await expect(search).rejects.toMatchObject({ code: 'ffmpeg-missing', file: broken.path });
    await expect(searchFfmpeg({ PARTSONG_FFMPEG: '/no/such' })).rejects.toThrow('there is no such file');
    const talker = standIn('talker', 'echo hello');
    await expect(searchFfmpeg({ PARTSONG_FFMPEG: talker.path })).rejects.toThrow('does not answer as FFmpeg');
  });

  test('takes the first of the PATH, unless ffmpeg-static is there', async () => {
    const { found } = await searchFfmpeg({ PATH: ['/no/such', good.folder, broken.folder].join(delimiter) });
    if (found?.origin !== 'ffmpeg-static') expect(found).toMatchObject({ path: good.path, origin: 'system' });
  });

  test('passes over a broken one of the PATH and says why, then takes the installed package', async () => {
    const { found, passedOver } = await searchFfmpeg({ PATH: broken.folder });
    if (found?.origin === 'ffmpeg-static') return;
    expect(found?.origin).toBe('@ffmpeg-installer/ffmpeg');
    expect(passedOver).toEqual([{ path: broken.path, origin: 'system', reason: 'it ended with exit code 3' }]);
  });

  test('grants a binary the permission to run that its package lacks', async () => {
    const file = `${folder.path}/not yet executable`;
    writeFileSync(file, '#!/bin/sh\n', { mode: 0o644 });
    expect(await madeExecutable(file)).toBe(file);
    expect(statSync(file).mode & 0o111).toBe(0o111);
  });
});

describe('an FFmpeg that answered', () => {
  const known = (): string => `${folder.path}/cache/partsong/ffmpeg.json`;
  const starts = (): number => (existsSync(`${folder.path}/starts`) ? readFileSync(`${folder.path}/starts`).length : 0);
  const counted = standIn('counted', `printf x >> '${folder.path}/starts'\necho "ffmpeg version 7.1 Copyright"`);

  /** As another process would find it. */
  async function foundAnew(): Promise<string> {
    useFfmpeg(undefined);
    const { version } = await findFfmpeg();
    return version;
  }

  test('is not started again only to be asked, until its file changes or what is known of it is damaged', async () => {
    vi.stubEnv('XDG_CACHE_HOME', `${folder.path}/cache`);
    vi.stubEnv('PARTSONG_FFMPEG', counted.path);
    try {
      expect([await foundAnew(), await foundAnew()]).toEqual(['7.1', '7.1']);
      expect(starts()).toBe(1);
      // Who asks for its description has it asked.
      useFfmpeg(undefined);
      await describeFfmpeg();
      expect(starts()).toBe(1 + 1 + 3);
      writeFileSync(counted.path, readFileSync(counted.path, 'utf8').replace('7.1', '8.0.1'));
      expect([await foundAnew(), await foundAnew()]).toEqual(['8.0.1', '8.0.1']);
      expect(starts()).toBe(6);
      for (const text of ['', '{"path":1}', '[null, 3, {"path": "x"}]']) {
        writeFileSync(known(), text);
        expect(await foundAnew()).toBe('8.0.1');
      }
      expect(starts()).toBe(9);
      chmodSync(counted.path, 0o644);
      await expect(foundAnew()).rejects.toMatchObject({ code: 'ffmpeg-missing' });
      expect(await new KnownFfmpegs().versionOf(counted.path)).toBeUndefined();
    } finally {
      useFfmpeg(undefined);
      vi.unstubAllEnvs();
    }
  });

  test('and does not start any more is told, not the clip, and is passed over from then on', async () => {
    vi.stubEnv('XDG_CACHE_HOME', `${folder.path}/cache`);
    // As where a library that it needs is taken away: its own file stays as it was.
    const gone = `${folder.path}/library is gone`;
    const fading = standIn('fading', `test -e '${gone}' && exit 127\necho "ffmpeg version 7.1 Copyright"`);
    vi.stubEnv('PARTSONG_FFMPEG', fading.path);
    try {
      expect(await foundAnew()).toBe('7.1');
      writeFileSync(gone, '');
      writeFileSync(`${folder.path}/take.flac`, 'fLaC and what follows');
      await expect(probe(`${folder.path}/take.flac`)).rejects.toMatchObject({
        code: 'ffmpeg-missing',
        file: fading.path,
      });
      expect(await new KnownFfmpegs().versionOf(fading.path)).toBeUndefined();
      await expect(findFfmpeg()).rejects.toMatchObject({ code: 'ffmpeg-missing' });
    } finally {
      useFfmpeg(undefined);
      vi.unstubAllEnvs();
    }
  });

  test('is remembered where the system says that caches are, and nowhere else', async () => {
    try {
      vi.stubEnv('XDG_CACHE_HOME', `${folder.path}/caches`);
      expect(userCacheFolder()).toBe(`${folder.path}/caches/partsong`);
      // The specification: a relative path is to be passed over.
      for (const told of ['', 'caches']) {
        vi.stubEnv('XDG_CACHE_HOME', told);
        vi.stubEnv('HOME', folder.path);
        expect(userCacheFolder()).toBe(`${folder.path}/.cache/partsong`);
        vi.stubEnv('HOME', '');
        expect(userCacheFolder()).toBe(join(tmpdir(), '.cache/partsong'));
      }
    } finally {
      vi.unstubAllEnvs();
    }
  });

  test('leaves nothing half written where its name cannot be taken', async () => {
    mkdirSync(`${folder.path}/taken/ffmpeg.json`, { recursive: true });
    await new KnownFfmpegs(`${folder.path}/taken`).keep(good.path, '7.1');
    expect(readdirSync(`${folder.path}/taken`)).toEqual(['ffmpeg.json']);
  });

  test('is asked each time where nothing can be kept', async () => {
    writeFileSync(`${folder.path}/no folder`, '');
    const none = new KnownFfmpegs(`${folder.path}/no folder/partsong`);
    await none.keep(good.path, '7.1');
    expect(await none.versionOf(good.path)).toBeUndefined();
    const here = new KnownFfmpegs(`${folder.path}/here`);
    await here.keep(good.path, '7.1');
    expect(await here.versionOf(good.path)).toBe('7.1');
    await here.keep(good.path, undefined);
    expect(await here.versionOf(good.path)).toBeUndefined();
    rmSync(`${folder.path}/no folder`);
  });
});

test('the FFmpeg in use is described, and lacks nothing', async () => {
  const description = await describeFfmpeg();
  expect(description.lacks).toEqual([]);
  expect(description.version).not.toBe('');
});

test('what is missing is told in sentences', () => {
  const nothing = { decoders: new Set<string>(), encoders: new Set<string>(), filters: new Set<string>() };
  expect(lacksOf(nothing).join('\n')).toContain('no video can be written');
});

test('names are read from the lists of builds old and new', () => {
  const listing = [
    ' ------',
    ' A....D aac                  AAC (Advanced Audio Coding)',
    ' V..... libx264   x',
    ' ..C aformat   A->A  x',
  ];
  expect([...namesIn(listing.join('\n'))]).toEqual(['aac', 'libx264', 'aformat']);
  expect(namesIn(' ... ashowinfo         A->A       Show\n TS fps  V->V x').has('ashowinfo')).toBe(true);
});

test('versions before 4.3 are old', () => {
  expect(['N-47683-g0e8eb07980-static', '4.1', 'n3.4.2', '4.2.7-0ubuntu0.1'].map(isOld)).toEqual([
    true,
    true,
    true,
    true,
  ]);
  expect(['5.1.9-0+deb12u1', '7.1', '8.0.1', 'N-118000-gabc', '2024-06-01-git', '4.4'].some(isOld)).toBe(false);
});
