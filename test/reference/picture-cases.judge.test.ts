import { spawnSync } from 'node:child_process';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Ffmpeg, searchFfmpeg, useFfmpeg } from '../../app/media/ffmpeg.ts';
import { type PictureReport, pictureSession } from '../../app/picture/picture-session.ts';
import { usualDesign } from '../../core/picture/picture-design.ts';
import { make, makeFolder } from '../app/media/clip-kit.ts';
import { makeSession } from '../app/picture/session-kit.ts';
import { debianFfmpeg } from '../outside-judges.ts';

// What a canvas must bear: judged by ffprobe (size, pictures, whole decoding).
describe('a canvas of any voices', () => {
  const folder = makeFolder();
  let ffmpeg: Ffmpeg;

  beforeAll(async () => {
    ffmpeg = (await searchFfmpeg({ PARTSONG_FFMPEG: debianFfmpeg })).found!;
    useFfmpeg(ffmpeg);
  });
  afterAll(() => {
    useFfmpeg(undefined);
    folder.remove();
  });

  const clip = (name: string, size: string, lengthSec: number, ...coded: string[]): string => {
    const source = ['-f', 'lavfi', '-i', `testsrc2=s=${size}:r=30:d=${lengthSec}`];
    const sound = ['-f', 'lavfi', '-i', `sine=d=${lengthSec}`];
    make(ffmpeg, [...source, ...sound, ...coded, '-c:a', 'aac', name], folder.path);
    return `${folder.path}/${name}`;
  };
  const plain = ['-c:v', 'libx264', '-preset', 'ultrafast', '-pix_fmt', 'yuv420p'];

  async function rendered(
    name: string,
    clips: readonly string[],
    canvas: { widthPx: number; heightPx: number },
    lengthSec: number,
  ): Promise<PictureReport> {
    const session = `${folder.path}/${name}`;
    const mix = [0, 1].map(() => new Float32Array(Math.ceil((lengthSec + 0.5) * 48000)).fill(0.001));
    makeSession(session, {
      voices: clips.map((path, n) => ({ name: `voice ${n + 1}`, clip: path, offsetSec: 0 })),
      ...{ mix, music: { fromSec: 0.1, toSec: 0.1 + lengthSec } },
    });
    const target = `${folder.path}/video ${name}.mp4`;
    const report = await pictureSession({
      ...{ session, target, design: () => usualDesign(canvas), trim: undefined, encoder: 'x264', speed: 'quick' },
      ...{ signal: AbortSignal.timeout(100_000), onStep: () => () => undefined },
    });
    const args = ['-v', 'error', '-count_frames', '-select_streams', 'v', '-show_streams', '-of', 'json', target];
    const { streams } = JSON.parse(spawnSync('ffprobe', args, { encoding: 'utf8' }).stdout) as {
      streams: { width: number; height: number; nb_read_frames: string }[];
    };
    expect(streams[0]).toMatchObject({ width: canvas.widthPx, height: canvas.heightPx });
    expect(Number(streams[0]!.nb_read_frames)).toBe(report.pictures);
    return report;
  }

  it('shows 25 voices at 3840 x 2160 px, and says before what they cost', async () => {
    const one = clip('one of many.mp4', '640x360', 1, ...plain);
    const many = Array.from({ length: 25 }, () => one);
    const report = await rendered('many', many, { widthPx: 3840, heightPx: 2160 }, 0.3);
    expect(report.tiles).toHaveLength(25);
    expect(new Set(report.tiles.map(({ box }) => JSON.stringify(box))).size).toBe(25);
  }, 120_000);

  it('shows one voice, nothing cut off of it', async () => {
    const report = await rendered(
      'alone',
      [clip('alone.mp4', '640x360', 2, ...plain)],
      { widthPx: 640, heightPx: 360 },
      1,
    );
    expect(report.quality.crop).toBeLessThan(0.02);
  });

  it('shows two upright clips side by side', async () => {
    const upright = ['left', 'right'].map((name) => clip(`${name}.mp4`, '180x320', 2, ...plain));
    const { tiles } = await rendered('upright', upright, { widthPx: 640, heightPx: 360 }, 1);
    expect(tiles[0]!.box.yPx).toBe(tiles[1]!.box.yPx);
    expect(tiles[1]!.box.xPx).toBeGreaterThanOrEqual(tiles[0]!.box.xPx + tiles[0]!.box.widthPx);
  });

  it('holds the last picture of a clip that is 1 s shorter than the mix, and says so', async () => {
    const clips = [clip('short.mp4', '320x180', 1.1, ...plain), clip('long.mp4', '320x180', 3, ...plain)];
    const report = await rendered('short', clips, { widthPx: 640, heightPx: 360 }, 2);
    expect(report.notes.join(' ')).toMatch(/voice 1 ends 1\.0 s before/);
  });

  it('shows clips of odd sizes, and dots that are not square', async () => {
    const odd = clip('odd.mkv', '321x181', 2, '-c:v', 'ffv1', '-pix_fmt', 'yuv420p');
    const wide = clip('wide.mp4', '360x288', 2, ...plain, '-vf', 'setsar=64/45');
    const report = await rendered('odd', [odd, wide], { widthPx: 642, heightPx: 362 }, 1);
    expect(report.tiles.map(({ kind }) => kind)).toEqual(['clip', 'clip']);
  });

  it('says which clip is missing, and how many more, before it renders', async () => {
    await expect(
      rendered(
        'gone',
        ['one', 'two'].map((name) => `${folder.path}/${name} gone.mp4`),
        { widthPx: 640, heightPx: 360 },
        1,
      ),
    ).rejects.toMatchObject({
      code: 'file-missing',
      message: expect.stringMatching(/one gone\.mp4.*1 more is missing/) as string,
    });
  });
});
