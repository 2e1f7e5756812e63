import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { guidePlanBeside } from '../../app/desk/guide-file.ts';
import { makeGuide } from '../../app/desk/make-guide.ts';
import { type Ffmpeg, searchFfmpeg, useFfmpeg } from '../../app/media/ffmpeg.ts';
import { PICTURE_WIDTH } from '../../core/guide/guide-picture.ts';
import { type GuidePlan, usualGuide } from '../../core/guide/guide-plan.ts';
import { decodeWhole, makeFolder } from '../app/media/clip-kit.ts';
import { debianFfmpeg } from '../outside-judges.ts';

/**
 * Picture and sound of the guide video, decoded by two builds of FFmpeg some years apart. Tempo and silence are such that
 * each beat falls on a picture, so that what is measured is the file and not the grid of pictures.
 */
const folder = makeFolder();
const builds: { name: string; ffmpeg: Ffmpeg }[] = [];
const DOT_ROWS = { top: 268, height: 12 };

beforeAll(async () => {
  const npm = (await searchFfmpeg({ PATH: '' })).found;
  const debian = (await searchFfmpeg({ PARTSONG_FFMPEG: debianFfmpeg })).found;
  if (npm === undefined || debian === undefined) throw new Error('both builds are needed');
  builds.push({ name: 'npm', ffmpeg: npm }, { name: 'debian', ffmpeg: debian });
  for (const { name, ffmpeg } of builds) {
    useFfmpeg(ffmpeg);
    await makeGuide({
      outFolder: join(folder.path, name),
      quartersPerMinute: 75,
      metre: { beats: 4, unit: 4 },
      bars: 6,
      settings: { ...usualGuide, silenceSec: 5.03, cue: 'both' },
      temperament: 'equal',
      tonic: 0,
      clickDb: 0,
      droneKey: null,
      ownDb: 0,
      formats: ['mp4'],
      signal: new AbortController().signal,
      onStep: () => () => undefined,
    });
  }
}, 60_000);
afterAll(() => {
  useFfmpeg(undefined);
  folder.remove();
});

/** The luma of the row of dots, picture after picture. */
function dotsOf(ffmpeg: Ffmpeg, file: string): Buffer[] {
  const crop = `crop=${PICTURE_WIDTH}:${DOT_ROWS.height}:0:${DOT_ROWS.top},format=gray`;
  const run = spawnSync(
    ffmpeg.path,
    ['-v', 'error', '-i', file, '-map', '0:v', '-vsync', '0', '-vf', crop, '-f', 'rawvideo', 'pipe:1'],
    { maxBuffer: 2 ** 28 },
  );
  expect(run.stderr.toString()).toBe('');
  const size = PICTURE_WIDTH * DOT_ROWS.height;
  return Array.from({ length: run.stdout.length / size }, (_, n) => run.stdout.subarray(n * size, (n + 1) * size));
}

function isFull(dots: Buffer, n: number, of: number): boolean {
  const x = Math.round(PICTURE_WIDTH / 2 + (n - (of - 1) / 2) * 44);
  return dots[6 * PICTURE_WIDTH + x]! < 140;
}

/** Time at which dot n is first seen full, and the last one not yet, within a second of a time. */
function fullSec(pictures: readonly Buffer[], nearSec: number, n: number, of: number): number {
  const from = Math.round((nearSec - 0.3) * 25);
  for (let at = from; at < from + 25; at++) {
    const isLastFull = isFull(pictures[at]!, of - 1, of);
    if (isFull(pictures[at]!, n, of) && (n === of - 1 || !isLastFull)) return at / 25;
  }
  return Number.NaN;
}

/** The first sample within 60 ms of a time that stands out of what is before it. */
function onsetSec(samples: Float32Array, nearSec: number): number {
  const from = Math.round((nearSec - 0.03) * 48000);
  for (let n = from; n < from + 4320; n++) if (Math.abs(samples[n]!) > 0.02) return n / 48000;
  return Number.NaN;
}

function beatsOf(plan: GuidePlan): { frame: number; dot: number }[] {
  const countIn = plan.clicks.filter((click) => click.countIn).map(({ frame }, n) => ({ frame, dot: n % 4 }));
  const music = plan.bars.flatMap((bar) => bar.beatFrames.map((frame, dot) => ({ frame, dot })));
  return [...countIn, ...music];
}

for (const maker of ['npm', 'debian']) {
  for (const reader of ['npm', 'debian']) {
    describe(`a guide video made by the ${maker} build and read by the ${reader} build`, () => {
      test('shows each beat within 10 ms of its click, and each beat of the cue within a picture', async () => {
        const ffmpeg = builds.find((one) => one.name === reader)!.ffmpeg;
        const file = join(folder.path, maker, 'guide.mp4');
        useFfmpeg(ffmpeg);
        const plan = (await guidePlanBeside(file))!;
        const { channels } = await decodeWhole(file);
        const pictures = dotsOf(ffmpeg, file);
        expect(pictures).toHaveLength(Math.ceil((plan.lengthFrames / 48000) * 25));
        for (const { frame, dot } of beatsOf(plan)) {
          const heard = onsetSec(channels[0]!, frame / 48000);
          const seen = fullSec(pictures, frame / 48000, dot, 4);
          // A click rises within 1 ms, AAC smears its onset by some.
          expect(Math.abs(heard - frame / 48000)).toBeLessThan(0.005);
          expect(Math.abs(seen - heard), `beat at ${frame / 48000} s`).toBeLessThan(0.01);
        }
        for (const cue of plan.cues) {
          for (const [n, frame] of [...cue.beatFrames, cue.clapFrame].entries()) {
            expect(Math.abs(fullSec(pictures, frame / 48000, n, 4) - frame / 48000)).toBeLessThanOrEqual(0.0201);
          }
        }
      });
    });
  }
}

test('sound and picture begin at 0 (ffprobe), with H.264, square pixels, 25 pictures a second and BT.709 told (CV-10.1)', () => {
  for (const { name } of builds) {
    const told = spawnSync(
      'ffprobe',
      ['-v', 'error', '-show_streams', '-of', 'json', join(folder.path, name, 'guide.mp4')],
      { encoding: 'utf8' },
    );
    const { streams } = JSON.parse(told.stdout) as { streams: Record<string, string>[] };
    expect(streams.map((one) => Number(one['start_time']))).toEqual([0, 0]);
    expect(streams[0]).toMatchObject({ codec_name: 'h264', pix_fmt: 'yuv420p', r_frame_rate: '25/1', has_b_frames: 0 });
    expect(streams[0]).toMatchObject({ color_space: 'bt709', color_range: 'tv' });
    expect(streams[1]).toMatchObject({ codec_name: 'aac', sample_rate: '48000' });
  }
});
