import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Ffmpeg, findFfmpeg } from '../../../app/media/ffmpeg.ts';
import { decodeWhole, lateBySamples, make, makeFolder, snrDb, strokes, writeWave } from './clip-kit.ts';
import { CLIP_FRAMES, CLIP_KINDS, makeKind, soundOfKind } from './clip-matrix.ts';

const folder = makeFolder();
let ffmpeg: Ffmpeg;
beforeAll(async () => {
  ffmpeg = await findFfmpeg();
});
afterAll(() => folder.remove());

describe('sound lies where it was recorded', () => {
  for (const kind of CLIP_KINDS) {
    const tolerance = kind.isExact ? 'to the sample' : 'within 1 sample';
    test(`${kind.name}, ${kind.rateHz} Hz, ${kind.channels} channel(s), ${tolerance}`, async () => {
      const original = soundOfKind(kind);
      const { facts, report, channels } = await decodeWhole(makeKind(kind, ffmpeg, folder.path));
      expect(report.rateHz).toBe(kind.rateHz);
      expect(channels).toHaveLength(kind.channels);
      for (const [n, samples] of channels.entries()) {
        // A lossy codec has no sample of its own: 1 sample is what FFT correlation of a coded stroke resolves.
        expect(Math.abs(lateBySamples(samples, original[n]!))).toBeLessThan(kind.isExact ? 0.01 : 1);
        if (kind.isExact) expect(snrDb(samples, original[n]!)).toBeGreaterThan(100);
      }
      if (kind.tellsEnd) expect(report.frames).toBe(CLIP_FRAMES);
      // The end of a stream that tells none is the end of its last coded block.
      expect(report.frames).toBeGreaterThanOrEqual(CLIP_FRAMES);
      expect(report.frames - CLIP_FRAMES).toBeLessThan(2048);
      expect(report.gaps).toEqual([]);
      expect(report.truncated).toBe(false);
      expect(facts.video === undefined).toBe(kind.picture === undefined);
      if (facts.video) expect(facts.video).toMatchObject({ width: 96, height: 64, rate: 30, startSec: 0 });
    });
  }
});

test('a late stream of PCM is preceded by silence up to its presentation time, to the sample', async () => {
  const [sound] = strokes(48000, 1, 48000, 5);
  writeWave(`${folder.path}/late.wav`, [sound!], 48000);
  const picture = ['-f', 'lavfi', '-i', 'testsrc=size=96x64:rate=30:duration=1.5'];
  const codecs = ['-map', '0:v', '-map', '1:a', '-c:v', 'libx264', '-preset', 'ultrafast', '-c:a', 'pcm_s24le'];
  make(ffmpeg, [...picture, '-itsoffset', '0.375', '-i', 'late.wav', ...codecs, 'late.mov'], folder.path);
  const { facts, report, channels } = await decodeWhole(`${folder.path}/late.mov`);
  expect(report.leadSec).toBe(0.375);
  expect(facts.chosenAudio.startSec).toBe(0.375);
  expect(report.frames).toBe(18000 + 48000);
  expect(channels[0]!.subarray(0, 18000).every((value) => value === 0)).toBe(true);
  expect(snrDb(channels[0]!.subarray(18000), sound!)).toBeGreaterThan(100);
  expect(facts.notes.join(' ')).toContain('0.375 s');
});

test('a late stream of AAC lies within 1 ms, the unit in which its file tells where it starts', async () => {
  const picture = ['-f', 'lavfi', '-i', 'testsrc=size=96x64:rate=30:duration=1.5'];
  const codecs = ['-map', '0:v', '-map', '1:a', '-c:v', 'libx264', '-preset', 'ultrafast', '-c:a', 'aac'];
  const [sound] = strokes(48000, 1, 48000, 5);
  writeWave(`${folder.path}/late.wav`, [sound!], 48000);
  make(ffmpeg, [...picture, '-itsoffset', '0.375', '-i', 'late.wav', ...codecs, 'late.mp4'], folder.path);
  const { channels } = await decodeWhole(`${folder.path}/late.mp4`);
  expect(Math.abs(lateBySamples(channels[0]!, sound!) - 18000)).toBeLessThan(48);
});

test('of several sound streams the one marked as default is taken, and the notes say so', async () => {
  const [one, two] = strokes(48000, 2, 48000, 9);
  writeWave(`${folder.path}/one.wav`, [one!], 48000);
  writeWave(`${folder.path}/two.wav`, [two!], 48000);
  const marks = ['-map', '0:a', '-map', '1:a', '-disposition:a:0', '0', '-disposition:a:1', 'default'];
  make(ffmpeg, ['-i', 'one.wav', '-i', 'two.wav', ...marks, '-c:a', 'alac', 'several.m4a'], folder.path);
  const { facts, channels } = await decodeWhole(`${folder.path}/several.m4a`);
  expect(facts.audio).toHaveLength(2);
  expect(facts.chosenAudio.index).toBe(1);
  expect(snrDb(channels[0]!, two!)).toBeGreaterThan(90);
  expect(facts.notes.join(' ')).toContain('2 sound streams; number 2');
});

test('sound that a recorder dropped is silence, and what follows stays at its time, to the sample', async () => {
  const [sound] = strokes(96000, 1, 48000, 11);
  writeWave(`${folder.path}/gap.wav`, [sound!], 48000);
  // Leaves out 4800 frames 0.6 s into the recording, and keeps the time stamps of the rest.
  const cut = "asetnsamples=4800,aselect='not(eq(n,6))'";
  make(ffmpeg, ['-i', 'gap.wav', '-af', cut, '-c:a', 'pcm_s24le', 'gap.mkv'], folder.path);
  const { report, channels } = await decodeWhole(`${folder.path}/gap.mkv`);
  expect(report.gaps).toEqual([{ atSec: 0.6, lengthSec: 0.1 }]);
  expect(report.frames).toBe(96000);
  expect(channels[0]!.subarray(28800, 33600).every((value) => value === 0)).toBe(true);
  expect(snrDb(channels[0]!.subarray(33600), sound!.subarray(33600))).toBeGreaterThan(100);
  expect(report.notes.join(' ')).toContain('lost 100 ms');
});
