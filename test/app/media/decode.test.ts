import { chmodSync, existsSync, readFileSync, writeFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { decode } from '../../../app/media/decode.ts';
import { type Ffmpeg, findFfmpeg, useFfmpeg } from '../../../app/media/ffmpeg.ts';
import { probe } from '../../../app/media/probe.ts';
import { decodeWhole, lateBySamples, make, makeFolder, snrDb, strokes, writeWave } from './clip-kit.ts';
import { CLIP_FRAMES, CLIP_KINDS, makeKinds, soundOfKind } from './clip-matrix.ts';

const folder = makeFolder();
let ffmpeg: Ffmpeg;
beforeAll(async () => {
  ffmpeg = await findFfmpeg();
});
afterAll(() => folder.remove());

describe('sound lies where it was recorded', () => {
  beforeAll(() => makeKinds(ffmpeg, folder.path));
  for (const kind of CLIP_KINDS) {
    const tolerance = kind.isExact ? 'to the sample' : 'within 1 sample';
    test(`${kind.name}, ${kind.rateHz} Hz, ${kind.channels} channel(s), ${tolerance}`, async () => {
      const original = soundOfKind(kind);
      const { facts, report, channels } = await decodeWhole(`${folder.path}/${kind.name}`);
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
  // Its edges of 15 ms fade.
  expect(channels[0]!.subarray(28800 + 720, 33600 - 720).every((value) => value === 0)).toBe(true);
  expect(snrDb(channels[0]!.subarray(33600), sound!.subarray(33600))).toBeGreaterThan(100);
  expect(report.notes.join(' ')).toContain('lost 100 ms');
});

test('delay and length that only an iTunSMPB tag tells are heeded, within 1 sample', async () => {
  const [sound] = strokes(100_777, 1, 48000, 31);
  writeWave(`${folder.path}/tagged.wav`, [sound!], 48000);
  make(ffmpeg, ['-i', 'tagged.wav', '-c:a', 'aac', '-b:a', '192k', 'edited.m4a'], folder.path);
  writeFileSync(`${folder.path}/tagged.m4a`, withTagForEdits(readFileSync(`${folder.path}/edited.m4a`), 1024, 100_777));
  const { report, channels } = await decodeWhole(`${folder.path}/tagged.m4a`);
  expect(report.frames).toBe(100_777);
  expect(Math.abs(lateBySamples(channels[0]!, sound!))).toBeLessThan(1);
});

/** Hides the edit list of an .m4a whose last box is its movie box, and writes what it told as an iTunSMPB tag. */
function withTagForEdits(file: Buffer, delayFrames: number, soundFrames: number): Buffer {
  const box = (type: string, ...parts: readonly Buffer[]): Buffer => {
    const body = Buffer.concat(parts);
    const head = Buffer.alloc(8);
    head.writeUInt32BE(body.length + 8, 0);
    head.write(type, 4, 'latin1');
    return Buffer.concat([head, body]);
  };
  const hex = (value: number, digits: number): string => value.toString(16).toUpperCase().padStart(digits, '0');
  const text = ` 00000000 ${hex(delayFrames, 8)} 00000000 ${hex(soundFrames, 16)}${' 00000000'.repeat(8)}`;
  const isText = Buffer.from([0, 0, 0, 1, 0, 0, 0, 0]);
  const tag = box(
    '----',
    box('mean', Buffer.alloc(4), Buffer.from('com.apple.iTunes')),
    box('name', Buffer.alloc(4), Buffer.from('iTunSMPB')),
    box('data', isText, Buffer.from(text)),
  );
  const parents = ['moov', 'udta', 'meta', 'ilst'].map((type) => file.lastIndexOf(type) - 4);
  for (const at of parents) file.writeUInt32BE(file.readUInt32BE(at) + tag.length, at);
  file.write('free', file.lastIndexOf('edts'), 'latin1');
  return Buffer.concat([file, tag]);
}

test('FFmpeg waits while the reader does', async () => {
  const sound = Array.from({ length: 2 }, () => new Float32Array(60 * 48000));
  writeWave(`${folder.path}/minute.wav`, sound, 48000, 'pcm16');
  make(ffmpeg, ['-i', 'minute.wav', '-c:a', 'copy', 'minute.mov'], folder.path);
  const facts = await probe(`${folder.path}/minute.mov`);
  // A minute is 23 MB of samples: FFmpeg is done with them in a moment, unless its output pipe is full.
  const script = `${folder.path}/tells its end`;
  writeFileSync(script, `#!/bin/sh\n'${ffmpeg.path}' "$@"\necho > '${folder.path}/ended'\n`);
  chmodSync(script, 0o755);
  useFfmpeg({ ...ffmpeg, path: script });
  try {
    let frames = 0;
    for await (const block of decode(facts.file, facts)) {
      if (frames === 0) {
        await new Promise((resolve) => setTimeout(resolve, 1000));
        expect(existsSync(`${folder.path}/ended`)).toBe(false);
      }
      frames += block[0]!.length;
    }
    expect(frames).toBe(60 * 48000);
  } finally {
    useFfmpeg(ffmpeg);
  }
});
