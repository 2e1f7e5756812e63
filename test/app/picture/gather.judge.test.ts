import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { searchFfmpeg, useFfmpeg } from '../../../app/media/ffmpeg.ts';
import { type GatherOptions, type GatherPlan, gatherSession } from '../../../app/picture/gather.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { make, makeFolder } from '../media/clip-kit.ts';
import { makeSession } from './session-kit.ts';

describe('a folder that relinks', () => {
  const folder = makeFolder();
  let session: string;
  const clips: string[] = [];

  beforeAll(async () => {
    const ffmpeg = (await searchFfmpeg({ PARTSONG_FFMPEG: '/usr/bin/ffmpeg' })).found!;
    useFfmpeg(ffmpeg);
    const source = ['-f', 'lavfi', '-i', 'testsrc2=s=320x180:r=30:d=3', '-f', 'lavfi', '-i', 'sine=d=3'];
    for (const name of ['anna', 'bela']) {
      // Two phones that call their clips the same but for the case.
      const clip = join(folder.path, name, name === 'anna' ? 'IMG_1.mp4' : 'img_1.mp4');
      mkdirSync(join(folder.path, name));
      make(ffmpeg, [...source, '-c:v', 'libx264', '-preset', 'ultrafast', '-c:a', 'aac', clip], folder.path);
      clips.push(clip);
    }
    session = join(folder.path, 'session');
    const mix = [0, 1].map(() => new Float32Array(3 * 48000).fill(0.01));
    makeSession(session, {
      voices: clips.map((clip, n) => ({ name: ['Anna', 'Béla'][n]!, clip, offsetSec: 0.1 * n })),
      ...{ mix, music: { fromSec: 0.5, toSec: 2.5 } },
    });
  });
  afterAll(() => {
    useFfmpeg(undefined);
    folder.remove();
  });

  const gather = (name: string, changes: Partial<GatherOptions> = {}, onPlan = (_: GatherPlan): void => undefined) =>
    gatherSession(
      session,
      {
        ...{ folder: join(folder.path, name), kind: 'otio', trim: undefined, links: false },
        ...{ signal: new AbortController().signal, onProgress: () => undefined, ...changes },
      },
      onPlan,
    );

  it('holds every file its list names, each as long as its source, wherever the folder goes', async () => {
    let planned: GatherPlan | undefined;
    const report = await gather('gathered', {}, (plan) => {
      planned = plan;
      // Told before a byte is written.
      expect(readdirSync(plan.folder)).toEqual([]);
    });
    expect(planned!.sizeBytes).toBe(
      [...clips, join(session, 'mix.wav')].reduce((sum, path) => sum + statSync(path).size, 0),
    );
    expect(planned!.freeBytes).toBeGreaterThan(planned!.sizeBytes);
    const moved = join(folder.path, 'elsewhere');
    renameSync(report.folder, moved);
    const list = JSON.parse(readFileSync(join(moved, report.list), 'utf8')) as unknown;
    const urls = [...JSON.stringify(list).matchAll(/"target_url":"([^"]+)"/g)].map(([, url]) => decodeURI(url!));
    expect(urls.sort()).toEqual(['clips/IMG_1.mp4', 'clips/img_1 2.mp4', 'sound/mix.wav']);
    for (const [index, { to, sizeBytes }] of report.files.entries()) {
      expect(statSync(join(moved, to)).size, to).toBe(sizeBytes);
      if (index < 2) expect(readFileSync(join(moved, to)).equals(readFileSync(clips[index]!))).toBe(true);
    }
    for (const clip of clips) expect(existsSync(clip)).toBe(true);
  });

  it('takes no room by links, and gathering once more changes nothing', async () => {
    const report = await gather('linked', { links: true });
    expect(report.linked).toBe(3);
    expect(statSync(join(report.folder, 'clips/IMG_1.mp4')).ino).toBe(statSync(clips[0]!).ino);
    expect((await gather('linked', { links: true })).linked).toBe(3);
  });

  it('leaves no half copy when it is stopped', async () => {
    const stop = new AbortController();
    const running = gather('stopped', { signal: stop.signal, onProgress: () => stop.abort() });
    await expect(running).rejects.toBeInstanceOf(CancelledError);
    const left = readdirSync(join(folder.path, 'stopped'), { recursive: true, encoding: 'utf8' });
    expect(left.filter((name) => /partsong-|otio$/.test(name))).toEqual([]);
  });
});
