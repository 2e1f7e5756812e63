import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { exitCodeOf } from '../../../app/cli/exit-code.ts';
import { findFfmpeg } from '../../../app/media/ffmpeg.ts';
import { runFfmpeg } from '../../../app/media/run.ts';
import { WaveFileWriter } from '../../../app/work/wave-file.ts';
import { Random } from '../../../core/signal/random.ts';
import { makeBenchTake } from '../../bench/bench-take.ts';
import { builtCommand, partsong } from './command.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-bad-input-'));
const take = join(folder, 'good take.wav');
let round = 0;
let out = '';

function wave(name: string, lengthSec: number, amplitude: number): string {
  const path = join(folder, name);
  const random = new Random(5);
  const writer = new WaveFileWriter(path, { format: 'pcm16', channels: 1, rateHz: 48000 });
  writer.write([
    Float32Array.from({ length: Math.round(lengthSec * 48000) }, () => amplitude * (random.uniform() - 0.5)),
  ]);
  writer.finish();
  return path;
}

beforeAll(async () => {
  await builtCommand();
  makeBenchTake({ path: take, lengthSec: 12, seed: 3, pitchHz: 262, startSec: 3 });
});
beforeEach(() => {
  out = join(folder, `out-${++round}`);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Runs `mix` on a bad clip beside a good one and expects its own exit code, a sentence with its name, and nothing left. */
async function refuses(clip: string, code: Parameters<typeof exitCodeOf>[0], sentence: RegExp): Promise<void> {
  const before = readdirSync(folder).sort();
  const end = await partsong(['mix', take, clip, '--out', out, '--json']);
  expect(end.stderr).toMatch(sentence);
  expect(end.code).toBe(exitCodeOf(code));
  const { fault } = JSON.parse(end.stdout) as { fault: { code: string; nextStep: string } };
  expect(fault.code).toBe(code);
  expect(fault.nextStep.length).toBeGreaterThan(10);
  expect(readdirSync(folder).sort()).toEqual(before);
}

describe('bad input is told in its own sentence and leaves nothing behind', () => {
  it('a missing file', () => refuses(join(folder, 'not there.mov'), 'file-missing', /not there\.mov is not there/));

  it('an empty file', () => {
    const path = join(folder, 'empty.mov');
    writeFileSync(path, '');
    return refuses(path, 'file-empty', /empty\.mov/);
  });

  it('a text file named .mov', () => {
    const path = join(folder, 'letter.mov');
    writeFileSync(path, 'Dear ensemble, the rehearsal is on Thursday.\n'.repeat(50));
    return refuses(path, 'not-media', /letter\.mov/);
  });

  it('digital silence', () =>
    refuses(wave('silent.wav', 8, 0), 'digital-silence', /silent\.wav.*every sample is zero/));

  it('a take of 1 s', () => refuses(wave('short.wav', 1, 0.2), 'too-short', /short\.wav is only 1\.0 s long/));

  it('a clip with no sound', async () => {
    const path = join(folder, 'mute.mp4');
    const ffmpeg = await findFfmpeg();
    await runFfmpeg(ffmpeg, [
      '-nostdin',
      '-y',
      '-f',
      'lavfi',
      '-i',
      'color=c=gray:s=64x64:r=10:d=3',
      '-c:v',
      'libx264',
      path,
    ]);
    return refuses(path, 'no-sound', /mute\.mp4/);
  });

  it('a truncated .mov, whose index stood at its end', async () => {
    const path = join(folder, 'cut.mov');
    const ffmpeg = await findFfmpeg();
    await runFfmpeg(ffmpeg, ['-nostdin', '-y', '-i', take, '-c:a', 'aac', path]);
    truncateSync(path, Math.round(readFileSync(path).length * 0.6));
    return refuses(path, 'truncated', /cut\.mov/);
  });

  it('samples that are not numbers', () => {
    const path = join(folder, 'not numbers.wav');
    const writer = new WaveFileWriter(path, { format: 'float32', channels: 1, rateHz: 48000 });
    writer.write([
      Float32Array.from({ length: 48000 * 4 }, (_, n) => (n === 90000 ? Number.NaN : 0.1 * Math.sin(n / 20))),
    ]);
    writer.finish();
    return refuses(path, 'file-unreadable', /not numbers\.wav/);
  });

  it('an unwritable target', async () => {
    const file = join(folder, 'a file');
    writeFileSync(file, 'keep me');
    const end = await partsong(['mix', take, '--out', join(file, 'inside')]);
    expect(end.code).toBe(exitCodeOf('target-unwritable'));
    expect(end.stderr).toMatch(/inside/);
    expect(readFileSync(file, 'utf8')).toBe('keep me');
    const clean = await partsong(['clean', take, '--out', join(folder, 'no such folder', 'x.wav')]);
    expect(clean.code).toBe(exitCodeOf('target-unwritable'));
  });

  it('options out of range, an unclear lead and an unknown verb end with code 2', async () => {
    for (const args of [
      ['mix', take, '--out', out, '--target', 'loud'],
      ['mix', take, '--out', out, '--lead', 'nobody'],
      ['clean', take, '--out', `${out}.wav`, '--silence', '5-2'],
      ['sing'],
    ]) {
      const end = await partsong(args);
      expect(end.code, args.join(' ')).toBe(2);
      expect(end.stderr.length, args.join(' ')).toBeGreaterThan(20);
    }
    expect(readdirSync(folder)).not.toContain(out);
  });

  it('a path to an FFmpeg that is none', async () => {
    const clip = join(folder, 'needs ffmpeg.m4a');
    writeFileSync(clip, new Uint8Array(2000).fill(7));
    const end = await partsong(['mix', clip, '--out', out], { env: { PARTSONG_FFMPEG: join(folder, 'nowhere') } });
    expect(end.code).toBe(exitCodeOf('ffmpeg-missing'));
    expect(end.stderr).toMatch(/PARTSONG_FFMPEG/);
  });
});

describe('an FFmpeg that is killed', () => {
  it('ends with its own code and sentence, and leaves nothing behind', async () => {
    const real = await findFfmpeg();
    const clip = join(folder, 'killed.m4a');
    await runFfmpeg(real, ['-nostdin', '-y', '-i', take, '-c:a', 'aac', clip]);
    const script = join(folder, 'ffmpeg-that-dies');
    // It looks into clips as ever, and dies as soon as it is to decode one.
    const body = `#!/bin/sh\ncase "$*" in *f32le*) kill -9 $$ ;; esac\nexec "${real.path}" "$@"\n`;
    writeFileSync(script, body, { mode: 0o755 });
    const before = readdirSync(folder).sort();
    const end = await partsong(['mix', clip, '--out', out, '--json'], { env: { PARTSONG_FFMPEG: script } });
    expect(end.stderr).toMatch(/killed\.m4a/);
    expect(end.code).toBe(exitCodeOf('ffmpeg-failed'));
    expect(readdirSync(folder).sort()).toEqual(before);
  });
});

describe('hard names and stops', () => {
  it('spaces, quotes, umlauts and emoji in names, and two clips of one name, are mixed and told apart', async () => {
    const one = join(folder, 'a', `Flöte "solo" 'eins' 🎶 100%.wav`);
    const two = join(folder, 'b', `Flöte "solo" 'eins' 🎶 100%.wav`);
    for (const [path, pitchHz] of [
      [one, 262],
      [two, 392],
    ] as const) {
      mkdirSync(join(path, '..'), { recursive: true });
      makeBenchTake({ path, lengthSec: 12, seed: pitchHz, pitchHz, startSec: 3 });
    }
    const end = await partsong(['mix', one, two, one, '--out', out, '--copy', 'none', '--json']);
    expect(end.stderr).not.toMatch(/defect/);
    expect(end.code).toBe(0);
    expect(readdirSync(join(out, 'stems')).sort()).toEqual(
      [`Flöte "solo" 'eins' 🎶 100% (2).wav`, `Flöte "solo" 'eins' 🎶 100%.wav`].sort(),
    );
    const report = JSON.parse(end.stdout) as { takes: unknown[]; notes: string[] };
    expect(report.takes).toHaveLength(2);
    expect(report.notes.join(' ')).toMatch(/named twice/);
  });

  it('Ctrl-C ends with code 130 and leaves nothing half-made', async () => {
    const long = join(folder, 'long.wav');
    makeBenchTake({ path: long, lengthSec: 150, seed: 9, pitchHz: 196, startSec: 3 });
    const before = readdirSync(folder).sort();
    const mix = await partsong(['mix', long, '--out', out], { interruptAt: 'Cleaning' });
    expect(mix.code).toBe(130);
    const clean = await partsong(['clean', long, '--out', `${out}.wav`], { interruptAt: 'Cleaning' });
    expect(clean.code).toBe(130);
    expect(readdirSync(folder).sort()).toEqual(before);
  });
});
