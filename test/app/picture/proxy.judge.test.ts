import { execFileSync } from 'node:child_process';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Ffmpeg, searchFfmpeg, useFfmpeg } from '../../../app/media/ffmpeg.ts';
import { clipPictureOf } from '../../../app/picture/clip-picture-facts.ts';
import { makeProxy, playsInPage, proxySize } from '../../../app/picture/proxy.ts';
import { debianFfmpeg } from '../../outside-judges.ts';
import { decodeWhole, lateBySamples, makeFolder } from '../media/clip-kit.ts';
import { type FlashClip, flashesIn, flashesOf, makeFlashClip, turnClip } from './flash-clips.ts';

const clips: readonly FlashClip[] = [
  { name: 'plain 30', rate: '30', size: '1280x720' },
  { name: 'turned 29.97', rate: '30000/1001', size: '320x180' },
  { name: 'fast 60', rate: '60', size: '640x480' },
  {
    name: 'uneven',
    rate: '30',
    size: '320x180',
    filter: "select='not(mod(n,50)*lt(mod(n,7),2))+gte(mod(n,7),2)'",
  },
  { name: 'late sound 25', rate: '25', size: '320x240', soundInput: ['-ss', '0.35', '-itsoffset', '0.35'] },
  { name: 'transport stream 50', rate: '50', size: '320x180', output: ['-f', 'mpegts'] },
  { name: 'hevc 30', rate: '30', size: '640x360', output: ['-c:v', 'libx265', '-x265-params', 'log-level=error'] },
];

describe('small copies for looking at, measured in the file', () => {
  const folder = makeFolder();
  let debian: Ffmpeg;

  beforeAll(async () => {
    debian = (await searchFfmpeg({ PARTSONG_FFMPEG: debianFfmpeg })).found!;
    useFfmpeg(debian);
  });
  afterAll(() => {
    useFfmpeg(undefined);
    folder.remove();
  });

  it.each(clips)('$name: flashes lie within half a picture (17 to 20 ms) of where their claps sound', async (clip) => {
    const { path, sound } = makeFlashClip(debian, folder.path, clip);
    if (clip.name.startsWith('turned')) turnClip(path, 320);
    const { facts, channels } = await decodeWhole(path);
    // Where our decoding hears the claps, so that picture and sound are held to one time.
    const lateSec = lateBySamples(channels[0]!, sound) / 48000;
    const picture = clipPictureOf(facts)!;
    expect(playsInPage(picture, facts.video!.codec)).toBe(!clip.name.startsWith('hevc'));
    const target = join(folder.path, `${clip.name}.small.mp4`);
    await makeProxy(picture, target, new AbortController().signal, () => undefined);
    const size = proxySize(picture);
    expect(Math.min(size.widthPx, size.heightPx)).toBeLessThanOrEqual(360);
    if (clip.name.startsWith('turned')) expect(size).toEqual({ widthPx: 180, heightPx: 320 });
    // Upright in itself: a copy that still told to be turned would lie on its side.
    const told = execFileSync('ffprobe', [
      '-v',
      'error',
      '-show_entries',
      'stream_side_data=rotation',
      '-of',
      'csv=p=0',
      target,
    ]);
    expect(told.toString().trim()).toBe('');
    const [found] = flashesIn(target, size, [{ xPx: 0, yPx: 0, ...size }]);
    const wanted = flashesOf(clip.rate);
    expect(found).toHaveLength(wanted.length);
    for (const [index, sec] of wanted.entries()) {
      // Half a picture of the copy's 30 a second (24 to 30 for slower clips: 20 ms), and a rounded stamp.
      expect(Math.abs(found![index]! - sec - lateSec)).toBeLessThan(0.5 / copyRate(clip.rate) + 0.001);
    }
  });
});

/** Pictures a second of a copy. */
function copyRate(rate: string): number {
  const [over, under = 1] = rate.split('/').map(Number) as [number, number?];
  return Math.min(30, Math.round(over / under));
}
