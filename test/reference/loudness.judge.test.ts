import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { LoudnessReport } from '../../core/loudness/loudness.ts';
import { measure, melodyOf, noiseOf, toneOf } from '../core/loudness/signals.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-loudness-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function run(command: string, args: readonly string[]): string {
  const result = spawnSync(command, args, { encoding: 'utf8', maxBuffer: 1 << 26 });
  if (result.status !== 0) throw new Error(`${command}: ${result.error?.message ?? result.stderr}`);
  return result.stdout;
}

/** Raw interleaved Float32 for the C program, and the same with a WAV header for FFmpeg. */
function write(channels: readonly Float32Array[], rateHz: number): { raw: string; wav: string } {
  const count = channels.length;
  const samples = new Float32Array(count * channels[0]!.length);
  channels.forEach((channel, c) => {
    channel.forEach((value, n) => {
      samples[n * count + c] = value;
    });
  });
  const data = Buffer.from(samples.buffer);
  const head = Buffer.alloc(44);
  head.write('RIFF', 0, 'latin1');
  head.writeUInt32LE(36 + data.length, 4);
  head.write('WAVEfmt ', 8, 'latin1');
  head.writeUInt32LE(16, 16);
  head.writeUInt16LE(3, 20);
  head.writeUInt16LE(count, 22);
  head.writeUInt32LE(rateHz, 24);
  head.writeUInt32LE(rateHz * count * 4, 28);
  head.writeUInt16LE(count * 4, 32);
  head.writeUInt16LE(32, 34);
  head.write('data', 36, 'latin1');
  head.writeUInt32LE(data.length, 40);
  const raw = join(folder, 'sound.f32');
  const wav = join(folder, 'sound.wav');
  writeFileSync(raw, data);
  writeFileSync(wav, Buffer.concat([head, data]));
  return { raw, wav };
}

/** Fed by 10 ms; M is only valid from 0.4 s on, S from 3 s on. Prints I, max M, max S, true peak (linear). */
const program = `
#include <ebur128.h>
#include <stdio.h>
#include <stdlib.h>
int main(int count, char **words) {
  unsigned rate = atoi(words[2]), channels = atoi(words[3]), step = rate / 100;
  FILE *file = fopen(words[1], "rb");
  ebur128_state *state = ebur128_init(channels, rate, EBUR128_MODE_I | EBUR128_MODE_S | EBUR128_MODE_TRUE_PEAK);
  if (channels == 1) ebur128_set_channel(state, 0, EBUR128_CENTER);
  float *block = malloc(sizeof(float) * step * channels);
  double m = -1e9, s = -1e9, i, value, peak = 0;
  size_t got;
  long steps = 0;
  while ((got = fread(block, sizeof(float) * channels, step, file)) > 0) {
    ebur128_add_frames_float(state, block, got);
    steps++;
    if (got == step && steps >= 40) { ebur128_loudness_momentary(state, &value); if (value > m) m = value; }
    if (got == step && steps >= 300) { ebur128_loudness_shortterm(state, &value); if (value > s) s = value; }
  }
  ebur128_loudness_global(state, &i);
  for (unsigned c = 0; c < channels; c++) { ebur128_true_peak(state, c, &value); if (value > peak) peak = value; }
  printf("%.9g %.9g %.9g %.9g\\n", i, m, s, peak);
  return 0;
}
`;
const judge = join(folder, 'judge');

beforeAll(() => {
  const source = join(folder, 'judge.c');
  writeFileSync(source, program);
  run('cc', ['-O2', '-o', judge, source, '-lebur128', '-lm']);
});

const signals: readonly (readonly [string, number, () => readonly Float32Array[]])[] = [
  ['a mono melody of 30 s at 48 kHz, seed 61', 48000, () => [melodyOf(30, 48000, 61)]],
  [
    'a stereo melody of 20 s at 44.1 kHz, seeds 62, 63',
    44100,
    () => [melodyOf(20, 44100, 62), melodyOf(20, 44100, 63)],
  ],
  ['mono noise of 5 s at 44.1 kHz, seed 64', 44100, () => [noiseOf(44100 * 5, 0.1, 64)]],
  ['stereo noise of 5 s at 48 kHz, seeds 65, 66', 48000, () => [noiseOf(240000, 0.05, 65), noiseOf(240000, 0.2, 66)]],
  [
    'row 5 of Tech 3341',
    48000,
    () =>
      [0, 1].map(() =>
        toneOf([
          [20, -26],
          [20.1, -20],
          [20, -26],
        ]),
      ),
  ],
];

function expectNear(reading: number, judged: number, tolerance: number, what: string): void {
  expect(Math.abs(reading - judged), `${what}: ours ${reading}, theirs ${judged}`).toBeLessThan(tolerance);
}

/** The judges' own four-times meters may read up to 0.55 dB low on a top between their points, in noise mostly. */
function expectPeakNear(report: LoudnessReport, judgedDbtp: number, isNoise: boolean): void {
  const above = report.truePeakDbtp - judgedDbtp;
  expect(above, `true peak: ours ${report.truePeakDbtp}, theirs ${judgedDbtp}`).toBeGreaterThan(-0.1);
  expect(above, `true peak: ours ${report.truePeakDbtp}, theirs ${judgedDbtp}`).toBeLessThan(isNoise ? 0.5 : 0.1);
}

describe('loudness before outside judges', () => {
  for (const [name, rateHz, make] of signals) {
    it(`agrees with libebur128 and FFmpeg on ${name} within 0.05 LU and 0.1 dB`, () => {
      const channels = make();
      const { raw, wav } = write(channels, rateHz);
      const report = measure(channels, { rateHz });
      const isNoise = name.includes('noise');

      const [i, m, s, peak] = run(judge, [raw, String(rateHz), String(channels.length)])
        .trim()
        .split(' ')
        .map(Number);
      expectNear(report.integratedLufs, i!, 0.05, 'I, libebur128');
      expectNear(report.maxMomentaryLufs, m!, 0.05, 'max M, libebur128');
      expectNear(report.maxShortTermLufs, s!, 0.05, 'max S, libebur128');
      expectPeakNear(report, 20 * Math.log10(peak!), isNoise);

      const tags = ['I', 'LRA', ...channels.map((_, c) => `true_peaks_ch${c}`)].map((tag) => `lavfi.r128.${tag}`);
      const lines = run('ffprobe', [
        ...['-v', 'error', '-f', 'lavfi', '-i', `amovie=${wav},ebur128=peak=true:metadata=1`],
        ...['-show_entries', `frame_tags=${tags.join(',')}`, '-of', 'csv=p=0'],
      ]);
      const [judgedI, judgedRange, ...peaks] = lines.trim().split('\n').at(-1)!.split(',').map(Number);
      expectNear(report.integratedLufs, judgedI!, 0.05, 'I, FFmpeg');
      // FFmpeg sorts into steps of 0.1 LU and takes the 10th percentile one rank lower: up to some 0.4 LU on a short piece.
      expectNear(report.rangeLu, judgedRange!, 0.5, 'range, FFmpeg');
      expectPeakNear(report, 20 * Math.log10(Math.max(...peaks)), isNoise);
    });
  }
});
