import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type DecodeReport, decode } from '../../../app/media/decode.ts';
import type { Ffmpeg } from '../../../app/media/ffmpeg.ts';
import { type ClipFacts, probe } from '../../../app/media/probe.ts';
import type { RealFft } from '../../../core/signal/fft.ts';
import { Random } from '../../../core/signal/random.ts';
import { makeWaveHeader } from '../../../core/wave/make-header.ts';
import { encodeSamples } from '../../../core/wave/samples.ts';
import { plannedFft } from '../../planned-fft.ts';

/** A folder of clips that is removed at the end. Its name has what names of folders may have. */
export function makeFolder(): { path: string; remove: () => void } {
  const path = mkdtempSync(join(tmpdir(), 'partsong clips ü-'));
  return { path, remove: () => rmSync(path, { recursive: true, force: true }) };
}

/**
 * Sound whose position can be measured: decaying broadband strokes every 0.2 s over noise at -60 dBFS. Each channel is
 * another sound.
 */
export function strokes(lengthFrames: number, channels: number, rateHz: number, seed: number): Float32Array[] {
  const random = new Random(seed);
  return Array.from({ length: channels }, () => {
    const samples = new Float32Array(lengthFrames);
    for (let n = 0; n < lengthFrames; n++) samples[n] = 0.001 * random.gaussian();
    for (let at = Math.round(0.1 * rateHz); at + 600 < lengthFrames; at += Math.round(0.2 * rateHz)) {
      for (let n = 0; n < 600; n++) samples[at + n]! += 0.25 * Math.exp(-n / 100) * random.gaussian();
    }
    return samples;
  });
}

export function writeWave(
  path: string,
  channels: readonly Float32Array[],
  rateHz: number,
  format: 'pcm16' | 'pcm24' | 'float32' = 'pcm24',
): void {
  const header = makeWaveHeader({ format, channels: channels.length, rateHz, lengthFrames: channels[0]!.length });
  writeFileSync(path, Buffer.concat([header, encodeSamples(channels, format)]));
}

/** Runs FFmpeg to make a clip; throws with what it said when it cannot. */
export function make(ffmpeg: Ffmpeg, args: readonly string[], cwd: string): void {
  const run = spawnSync(ffmpeg.path, ['-v', 'error', '-nostdin', '-y', ...args], { cwd, encoding: 'utf8' });
  if (run.status !== 0) throw new Error(`${ffmpeg.path} ${args.join(' ')}: ${run.stderr}`);
}

export interface Decoded {
  readonly facts: ClipFacts;
  readonly report: DecodeReport;
  readonly channels: Float32Array[];
}

/** A whole clip in memory, as decoding gives it. */
export async function decodeWhole(file: string): Promise<Decoded> {
  const facts = await probe(file);
  const decoding = decode(file, facts);
  const parts: Float32Array[][] = Array.from({ length: decoding.channels }, () => []);
  for await (const block of decoding) {
    for (const [channel, samples] of block.entries()) parts[channel]!.push(samples.slice());
  }
  return { facts, report: decoding.report(), channels: parts.map(join32) };
}

function join32(parts: readonly Float32Array[]): Float32Array {
  const whole = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

/** How many samples later than in `original` the same sound lies in `decoded`, to a fraction, by cross-correlation. */
export function lateBySamples(decoded: Float32Array, original: Float32Array, size = 1 << 17): number {
  const fft = plannedFft(2 * size);
  const [aRe, aIm] = spectrum(fft, decoded, size);
  const [bRe, bIm] = spectrum(fft, original, size);
  for (let k = 0; k < fft.bins; k++) {
    const re = aRe[k]! * bRe[k]! + aIm[k]! * bIm[k]!;
    aIm[k] = aIm[k]! * bRe[k]! - aRe[k]! * bIm[k]!;
    aRe[k] = re;
  }
  const correlation = new Float64Array(2 * size);
  fft.inverse(aRe, aIm, correlation);
  let best = 0;
  for (let n = 1; n < correlation.length; n++) if (correlation[n]! > correlation[best]!) best = n;
  const before = correlation[(best + 2 * size - 1) % (2 * size)]!;
  const after = correlation[(best + 1) % (2 * size)]!;
  const fraction = (after - before) / (2 * (2 * correlation[best]! - before - after));
  return (best < size ? best : best - 2 * size) + fraction;
}

function spectrum(fft: RealFft, samples: Float32Array, size: number): [Float64Array, Float64Array] {
  const input = new Float64Array(2 * size);
  input.set(samples.subarray(0, size));
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  fft.forward(input, re, im);
  return [re, im];
}

/** Signal-to-noise ratio of `decoded` against `original` over the length both have, dB. */
export function snrDb(decoded: Float32Array, original: Float32Array): number {
  let signal = 0;
  let noise = 0;
  for (let n = 0; n < Math.min(decoded.length, original.length); n++) {
    signal += original[n]! ** 2;
    noise += (decoded[n]! - original[n]!) ** 2;
  }
  return 10 * Math.log10(signal / noise);
}
