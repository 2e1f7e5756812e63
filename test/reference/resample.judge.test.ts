import { execFileSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { Random } from '../../core/signal/random.ts';
import { RateConverter } from '../../core/signal/rate-converter.ts';
import { runInBlocks, snrDb } from '../processor-suite.ts';

/** Noise that ends at 0.8 of the lower Nyquist frequency: a sum of 120 sines from a seed, faded in and out over 50 ms. */
function bandNoise(rateHz: number, topHz: number, seed: number): Float32Array {
  const random = new Random(seed);
  const samples = new Float32Array(rateHz);
  for (let line = 0; line < 120; line++) {
    const w = (2 * Math.PI * (20 + random.uniform() * (topHz - 20))) / rateHz;
    const phase = random.uniform() * 2 * Math.PI;
    for (let n = 0; n < samples.length; n++) samples[n]! += 0.01 * Math.sin(w * n + phase);
  }
  const fade = rateHz / 20;
  for (let n = 0; n < fade; n++) {
    const gain = 0.5 - 0.5 * Math.cos((Math.PI * n) / fade);
    samples[n]! *= gain;
    samples[samples.length - 1 - n]! *= gain;
  }
  return samples;
}

/**
 * FFmpeg's two engines: its own with a long filter, and soxr at 28 bit. The second errs by -96 dB against the formula at
 * 44.1 to 48 kHz (ours by -116), so it can only bear witness to 95 dB.
 */
const engines = [
  { engine: 'resampler=swr:filter_size=256:phase_shift=10:cutoff=0.95', least: 100 },
  { engine: 'resampler=soxr:precision=28', least: 95 },
] as const;

describe('rate conversion before FFmpeg aresample', () => {
  for (const [from, to] of [
    [44100, 48000],
    [48000, 44100],
    [96000, 48000],
    [16000, 48000],
  ] as const) {
    for (const { engine, least } of engines) {
      it(`${from} to ${to} Hz: agrees with ${engine} to ${least} dB`, () => {
        const seed = 9;
        const samples = bandNoise(from, 0.4 * Math.min(from, to), seed);
        const ours = runInBlocks(new RateConverter(1, from, to), [samples], 4096)[0]!;
        const filter = `aresample=${to}:${engine}`;
        const form = ['-f', 'f32le'];
        const raw = execFileSync(
          'ffmpeg',
          ['-v', 'error', ...form, '-ar', `${from}`, '-ac', '1', '-i', '-', '-af', filter, ...form, '-'],
          { input: new Uint8Array(samples.buffer), maxBuffer: 1 << 26 },
        );
        const theirs = new Float32Array(new Uint8Array(raw).buffer);
        expect(Math.abs(theirs.length - ours.length)).toBeLessThanOrEqual(1);
        const length = Math.min(theirs.length, ours.length);
        const agreement = snrDb([theirs.subarray(0, length)], [ours.subarray(0, length)]);
        expect(agreement, `seed ${seed}`).toBeGreaterThan(least);
      });
    }
  }
});
