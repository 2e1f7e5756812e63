import { expect, it } from 'vitest';
import { type Block, blockLength, type Processor } from '../core/signal/block.ts';
import { Random } from '../core/signal/random.ts';

/** What the shared suite needs to know of a stage. */
export interface ProcessorCase {
  readonly make: () => Processor;
  readonly inputChannels: number;
  /** Peak of the noise that is sent through; 0.5 unless a stage does its work only when it is louder. */
  readonly peak?: number;
  /**
   * Where an impulse that goes in at frame `at` must have its largest output: `at` by default, as latency is compensated;
   * 'none' for a stage that has no such peak.
   */
  readonly impulse?: 'inStep' | 'none';
  /** Smallest SNR between two ways of cutting, dB; 140 (float's own rounding) by default. */
  readonly snrDb?: number;
  /** Silence in gives exact zeros out; false for a stage that adds something by design. */
  readonly silent?: boolean;
}

/** Sends a sound through in blocks of `size` frames and gives all that came out, copied. */
export function runInBlocks(stage: Processor, input: Block, size: number): Float32Array[] {
  const parts: Float32Array[][] = [];
  const keep = (block: Block): void => {
    for (const [channel, samples] of block.entries()) {
      parts[channel] ??= [];
      parts[channel].push(samples.slice());
    }
  };
  const length = blockLength(input);
  for (let from = 0; from < length; from += size) {
    keep(stage.process(input.map((samples) => samples.slice(from, from + size))));
  }
  keep(stage.flush());
  return parts.map((pieces) => {
    const whole = new Float32Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
    let at = 0;
    for (const piece of pieces) {
      whole.set(piece, at);
      at += piece.length;
    }
    return whole;
  });
}

/** Ratio of a sound's power to that of its difference from another, dB; Infinity when they are equal. */
export function snrDb(wanted: Block, got: Block): number {
  let signal = 0;
  let error = 0;
  for (const [channel, samples] of wanted.entries()) {
    for (let n = 0; n < samples.length; n++) {
      signal += samples[n]! ** 2;
      error += (samples[n]! - got[channel]![n]!) ** 2;
    }
  }
  return error === 0 ? Number.POSITIVE_INFINITY : 10 * Math.log10(signal / error);
}

/** The suite that every Processor must pass. Call it inside a `describe`. */
export function processorSuite(subject: ProcessorCase): void {
  const frames = 20_000;
  const seed = 71;
  const least = subject.snrDb ?? 140;

  function noise(): Float32Array[] {
    const random = new Random(seed);
    const peak = subject.peak ?? 0.5;
    return Array.from({ length: subject.inputChannels }, () =>
      Float32Array.from({ length: frames }, (_, n) => (2 * random.uniform() - 1) * peak * (n % 5000 < 2500 ? 1 : 0.2)),
    );
  }

  it(`gives the same sound in blocks of 1, 7, 128, 4096 frames and whole, ${least} dB, seed ${seed}`, () => {
    const input = noise();
    const whole = runInBlocks(subject.make(), input, frames);
    for (const samples of whole) expect(samples.length).toBe(frames);
    for (const size of [1, 7, 128, 4096]) {
      const cut = runInBlocks(subject.make(), input, size);
      expect(cut.map((samples) => samples.length)).toEqual(whole.map((samples) => samples.length));
      expect(snrDb(whole, cut), `blocks of ${size}`).toBeGreaterThan(least);
    }
  });

  it('holds back exactly the latency it states', () => {
    const stage = subject.make();
    const input = noise();
    expect(blockLength(stage.process(input))).toBe(frames - stage.latencyFrames);
    expect(blockLength(stage.flush())).toBe(stage.latencyFrames);
  });

  if (subject.impulse !== 'none') {
    it('keeps an impulse at its frame', () => {
      const at = 9000;
      const input = noise().map((samples) => samples.fill(0).fill(subject.peak ?? 0.5, at, at + 1));
      for (const samples of runInBlocks(subject.make(), input, 512)) {
        const largest = samples.reduce((best, value, n) => (Math.abs(value) > Math.abs(samples[best]!) ? n : best), 0);
        expect(largest).toBe(at);
      }
    });
  }

  if (subject.silent !== false) {
    it('keeps silence silent', () => {
      const input = noise().map((samples) => samples.fill(0));
      for (const samples of runInBlocks(subject.make(), input, 512)) {
        expect(samples.every((value) => value === 0)).toBe(true);
      }
    });
  }

  it('gives finite numbers for a full-scale square wave, denormal numbers and a step', () => {
    const shapes = [
      (n: number) => (n % 200 < 100 ? 1 : -1),
      (n: number) => (n % 2 === 0 ? 1e-40 : -1e-40),
      (n: number) => (n < 100 ? 0 : 1),
    ];
    for (const shape of shapes) {
      const input = noise().map((samples) => samples.map((_, n) => shape(n)));
      for (const samples of runInBlocks(subject.make(), input, 1000)) {
        expect(samples.every((value) => Number.isFinite(value))).toBe(true);
      }
    }
  });

  it('is as new after reset', () => {
    const input = noise();
    const stage = subject.make();
    const first = runInBlocks(stage, input, 512);
    stage.reset();
    expect(snrDb(first, runInBlocks(stage, input, 512))).toBe(Number.POSITIVE_INFINITY);
  });
}
