import { chmodSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { afterAll, afterEach, beforeAll, expect, test } from 'vitest';
import { encodeAudio } from '../../../app/media/encode.ts';
import { type Ffmpeg, findFfmpeg, useFfmpeg } from '../../../app/media/ffmpeg.ts';
import type { Block } from '../../../core/signal/block.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { decodeWhole, lateBySamples, makeFolder, snrDb, strokes, writeWave } from './clip-kit.ts';

const folder = makeFolder();
const at = (name: string): string => `${folder.path}/${name}`;
const RATE_HZ = 48000;
const FRAMES = 100_001;
const sound = strokes(FRAMES, 2, RATE_HZ, 17);
let ffmpeg: Ffmpeg;
beforeAll(async () => {
  ffmpeg = await findFfmpeg();
  writeWave(at('mix.wav'), sound, RATE_HZ, 'pcm24');
});
afterEach(() => useFfmpeg(ffmpeg));
afterAll(() => folder.remove());

async function* blocksOf(channels: readonly Float32Array[]): AsyncGenerator<Block> {
  for (let from = 0; from < channels[0]!.length; from += 5000) {
    yield channels.map((samples) => samples.subarray(from, from + 5000));
  }
}

/** No partial file is left, hidden or not. */
function filesBeginningWith(text: string): string[] {
  return readdirSync(folder.path).filter((name) => name.startsWith('.partsong') || name.startsWith(text));
}

test('a 24-bit WAVE file comes back from FLAC as it was', async () => {
  await encodeAudio({ kind: 'wave', path: at('mix.wav') }, at('mix.flac'), { format: 'flac' });
  const before = await decodeWhole(at('mix.wav'));
  const after = await decodeWhole(at('mix.flac'));
  expect(after.channels).toEqual(before.channels);
});

test('blocks come back from FLAC to 24 bit', async () => {
  let doneSec = 0;
  const source = { kind: 'blocks', blocks: blocksOf(sound), rateHz: RATE_HZ, channels: 2 } as const;
  await encodeAudio(source, at('blocks.flac'), {
    format: 'flac',
    onProgress: (sec) => {
      doneSec = sec;
    },
  });
  const { report, channels } = await decodeWhole(at('blocks.flac'));
  expect(report.frames).toBe(FRAMES);
  // Sound at -30 dBFS or so against steps of 2^-23.
  expect(snrDb(channels[1]!, sound[1]!)).toBeGreaterThan(100);
  expect(doneSec).toBeCloseTo(FRAMES / RATE_HZ, 1);
});

for (const format of ['m4a', 'mp3'] as const) {
  test(`sound in .${format} lies within 1 sample of where it was, and is as long`, async () => {
    const tags = { title: 'Vier Stücke = "eins" ♪' };
    await encodeAudio({ kind: 'wave', path: at('mix.wav') }, at(`mix.${format}`), { format, bitrateKbps: 256, tags });
    const { report, channels } = await decodeWhole(at(`mix.${format}`));
    expect(report.frames).toBe(FRAMES);
    expect(Math.abs(lateBySamples(channels[0]!, sound[0]!))).toBeLessThan(1);
    if (format === 'm4a') expect(readFileSync(at(`mix.${format}`)).includes(Buffer.from(tags.title))).toBe(true);
  });
}

test('a folder that is not there is told before anything is encoded', async () => {
  const target = at('nowhere/mix.flac');
  const encoding = encodeAudio({ kind: 'wave', path: at('mix.wav') }, target, { format: 'flac' });
  await expect(encoding).rejects.toMatchObject({ code: 'target-unwritable', file: target });
});

test('a missing WAVE file is told as such', async () => {
  const encoding = encodeAudio({ kind: 'wave', path: at('no such.wav') }, at('none.flac'), { format: 'flac' });
  await expect(encoding).rejects.toMatchObject({ code: 'file-missing', file: at('no such.wav') });
  expect(filesBeginningWith('none')).toEqual([]);
});

test('a full disk is told as such and leaves nothing', async () => {
  writeFileSync(
    at('full'),
    '#!/bin/sh\ncat > /dev/null\necho "av_interleaved_write_frame(): No space left on device" >&2\nexit 1\n',
  );
  chmodSync(at('full'), 0o755);
  useFfmpeg({ path: at('full'), version: 'scripted', origin: 'PARTSONG_FFMPEG' });
  const source = { kind: 'blocks', blocks: blocksOf(sound), rateHz: RATE_HZ, channels: 2 } as const;
  const encoding = encodeAudio(source, at('full.m4a'), { format: 'm4a' });
  await expect(encoding).rejects.toMatchObject({ code: 'target-full', file: at('full.m4a') });
  expect(filesBeginningWith('full.m4a')).toEqual([]);
});

test('an FFmpeg that dies while it is fed is told as such and leaves nothing', async () => {
  writeFileSync(at('dies'), '#!/bin/sh\nhead -c 5000 > /dev/null\nkill -9 $$\n');
  chmodSync(at('dies'), 0o755);
  useFfmpeg({ path: at('dies'), version: 'scripted', origin: 'PARTSONG_FFMPEG' });
  const source = { kind: 'blocks', blocks: blocksOf(sound), rateHz: RATE_HZ, channels: 2 } as const;
  const encoding = encodeAudio(source, at('dies.m4a'), { format: 'm4a' });
  await expect(encoding).rejects.toMatchObject({ code: 'ffmpeg-failed' });
  expect(filesBeginningWith('dies.m4a')).toEqual([]);
});

test('a stop in the middle leaves no file', async () => {
  const stop = new AbortController();
  async function* endless(): AsyncGenerator<Block> {
    for (let n = 0; ; n++) {
      if (n === 20) stop.abort();
      yield sound.map((samples) => samples.subarray(0, 4800));
    }
  }
  const source = { kind: 'blocks', blocks: endless(), rateHz: RATE_HZ, channels: 2 } as const;
  const encoding = encodeAudio(source, at('stopped.flac'), { format: 'flac', signal: stop.signal });
  await expect(encoding).rejects.toThrow(CancelledError);
  expect(filesBeginningWith('stopped')).toEqual([]);
});

test('blocks that break in the middle leave no file, and their own error', async () => {
  async function* breaking(): AsyncGenerator<Block> {
    yield sound;
    throw new RangeError('broke');
  }
  const source = { kind: 'blocks', blocks: breaking(), rateHz: RATE_HZ, channels: 2 } as const;
  await expect(encodeAudio(source, at('broken.flac'), { format: 'flac' })).rejects.toThrow('broke');
  expect(filesBeginningWith('broken')).toEqual([]);
});
