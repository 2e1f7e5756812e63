import { spawnSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import { TriangularDither } from '../../core/mix/dither.ts';
import { MasterSearch } from '../../core/mix/master-search.ts';
import { MasterPass } from '../../core/mix/mixdown.ts';
import { MixBus } from '../../core/mix/mixer.ts';
import type { Block } from '../../core/signal/block.ts';
import { Random } from '../../core/signal/random.ts';
import { makeWaveHeader } from '../../core/wave/make-header.ts';
import { encodeSamples } from '../../core/wave/samples.ts';
import { runInBlocks } from '../processor-suite.ts';

/**
 * Judge: FFmpeg's ebur128 (its true peak is read at four times the rate by a resampler of its own). The rule: within
 * 0.1 LU of the target and at or under the ceiling, in every format that is written.
 */
const rateHz = 48000;
const frames = 12 * rateHz;

/** A voice of notes with overtones and sharp attacks, and a clap at its start. */
function voice(seed: number): Float32Array {
  const random = new Random(seed);
  const samples = new Float32Array(frames);
  for (let at = 24_000; at < frames - 30_000; at += 12_000 + Math.floor(random.uniform() * 12_000)) {
    const w = (2 * Math.PI * 110 * 2 ** (Math.floor(random.uniform() * 30) / 12)) / rateHz;
    for (let n = 0; n < 30_000; n++) {
      let value = 0;
      for (let overtone = 1; overtone <= 8; overtone++) value += Math.sin(overtone * w * n) / overtone;
      samples[at + n]! += 0.1 * Math.min(1, n / 150) * Math.exp(-n / 9000) * value;
    }
  }
  for (let n = 0; n < 2000; n++) samples[9600 + n]! += 3 * Math.exp(-n / 150) * (random.uniform() - 0.5);
  return samples;
}

function ffmpegReading(wave: Uint8Array): { integratedLufs: number; truePeakDbtp: number } {
  const filter = ['-af', 'ebur128=peak=true:metadata=1,ametadata=print:file=-', '-f', 'null', '-'];
  const run = spawnSync('ffmpeg', ['-v', 'error', '-i', '-', ...filter], { input: wave, maxBuffer: 1 << 28 });
  expect(run.status, run.stderr.toString()).toBe(0);
  const text = run.stdout.toString();
  const last = (key: string): number => Number(text.slice(text.lastIndexOf(`${key}=`) + key.length + 1).split('\n')[0]);
  const peaks = Array.from(text.matchAll(/true_peaks_ch[01]=([\d.]+)/g), (match) => Number(match[1]));
  return { integratedLufs: last('lavfi.r128.I'), truePeakDbtp: 20 * Math.log10(Math.max(...peaks)) };
}

function joined(parts: readonly Uint8Array[]): Uint8Array {
  return new Uint8Array(Buffer.concat(parts));
}

describe('the mixdown before FFmpeg ebur128', () => {
  const bus = new MixBus(
    [-40, -5, 5, 40].map((placeDeg) => ({ gainDb: 0, placeDeg, lowCutHz: 60, muted: false })),
    rateHz,
  );
  const mix: Block = bus.process([1, 2, 3, 4].map((seed) => [voice(seed)]));
  for (const [targetLufs, ceilingDbtp] of [
    [-14, -1],
    [-23, -1],
    [-11, -2],
  ] as const) {
    it(`is within 0.1 LU of ${targetLufs} LUFS and never above ${ceilingDbtp} dBTP, in 16 bit, 24 bit and float`, () => {
      const meter = new LoudnessMeter({ rateHz, channels: 2 });
      meter.add(mix);
      const search = new MasterSearch({ targetLufs, ceilingDbtp }, meter.result());
      let output: Block = [];
      for (let going = true; going; ) {
        const pass = new MasterPass(search.next, rateHz);
        output = runInBlocks(pass, mix, 4096);
        going = search.report(pass.result().loudness).kind === 'again';
      }
      for (const format of ['pcm16', 'pcm24', 'float32'] as const) {
        const dither = format === 'pcm16' ? new TriangularDither(1) : undefined;
        const header = makeWaveHeader({ format, channels: 2, rateHz, lengthFrames: frames });
        const reading = ffmpegReading(joined([header, encodeSamples(output, format, dither)]));
        expect(Math.abs(reading.integratedLufs - targetLufs), format).toBeLessThanOrEqual(0.1);
        expect(reading.truePeakDbtp, format).toBeLessThanOrEqual(ceilingDbtp);
      }
    });
  }
});
