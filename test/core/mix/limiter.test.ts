import { describe, expect, it } from 'vitest';
import { Limiter } from '../../../core/mix/limiter.ts';
import { Random } from '../../../core/signal/random.ts';
import { processorSuite, runInBlocks, snrDb } from '../../processor-suite.ts';
import { truePeak8xDb } from './true-peak-8x.ts';

const rateHz = 48000;

function limiter(ceilingDbtp = -1): Limiter {
  return new Limiter({ rateHz, channels: 2, ceilingDbtp });
}

/** Notes of many pitches with sharp attacks, both sides; peaks some 6 dB over full scale. */
function notes(seed: number, frames: number, gain: number): Float32Array[] {
  const random = new Random(seed);
  const left = new Float32Array(frames);
  const right = new Float32Array(frames);
  for (let voice = 0; voice < 40; voice++) {
    const w = (2 * Math.PI * 80 * 2 ** (random.uniform() * 6)) / rateHz;
    const at = Math.floor(random.uniform() * frames * 0.9);
    const side = random.uniform();
    for (let n = at; n < Math.min(frames, at + 48_000); n++) {
      const value = gain * Math.exp((at - n) / 20_000) * Math.min(1, (n - at) / 200) * Math.sin(w * (n - at));
      left[n]! += value * side;
      right[n]! += value * (1 - side);
    }
  }
  return [left, right];
}

/** Noise that ends at 0.8 of the Nyquist frequency, as phone coders leave it, with hits ten times as loud. */
function hits(seed: number, frames: number): Float32Array[] {
  const random = new Random(seed);
  const lines = Array.from({ length: 300 }, () => ({
    w: 2 * Math.PI * random.uniform() * 0.4,
    phase: random.uniform() * 6.28,
  }));
  const left = new Float32Array(frames);
  for (const { w, phase } of lines) for (let n = 0; n < frames; n++) left[n]! += 0.01 * Math.sin(w * n + phase);
  for (let n = 0; n < frames; n++) left[n]! *= n % 9600 < 480 ? 10 : 1;
  return [left, left.map((value) => -0.7 * value)];
}

describe('Limiter', () => {
  describe('as a Processor, working hard', () => {
    processorSuite({ make: () => limiter(-6), inputChannels: 2, peak: 1.5, impulse: 'inStep' });
  });

  describe('as a Processor, at rest', () => {
    processorSuite({ make: () => limiter(), inputChannels: 2, peak: 0.3 });
  });

  it('keeps the true peak at or under the ceiling by an 8x meter, on notes 2 and 12 dB too loud and on hits', () => {
    const cases: readonly (readonly [string, Float32Array[]])[] = [
      ['notes', notes(1, 144_000, 0.4)],
      ['loud notes', notes(2, 144_000, 1.5)],
      ['hits', hits(3, 48_000)],
    ];
    for (const [name, input] of cases) {
      expect(truePeak8xDb(input), name).toBeGreaterThan(0.5);
      for (const ceilingDbtp of [-1, -3]) {
        const output = runInBlocks(limiter(ceilingDbtp), input, 4096);
        const peak = truePeak8xDb(output);
        expect(peak, name).toBeLessThanOrEqual(ceilingDbtp);
        // It does not turn down more than it must: the margin of 0.05 dB and what the release had no time to give back.
        expect(peak, name).toBeGreaterThan(ceilingDbtp - 0.1);
      }
    }
  });

  it('passes to the bit what stays under the ceiling', () => {
    const input = notes(4, 48_000, 0.06);
    expect(truePeak8xDb(input)).toBeLessThan(-3);
    const stage = limiter();
    const output = runInBlocks(stage, input, 777);
    expect(snrDb(input, output)).toBe(Number.POSITIVE_INFINITY);
    expect(stage.work()).toEqual({ mostDb: 0, meanDb: 0, share: 0 });
  });

  it('comes back to bits as they were within 2 s after a peak', () => {
    const input = notes(5, 192_000, 0.03);
    for (let n = 20_000; n < 20_050; n++) input[0]![n]! += 3;
    const output = runInBlocks(limiter(), input, 4096);
    for (const [from, to] of [
      [0, 19_700],
      [120_000, 192_000],
    ] as const) {
      const part = (block: readonly Float32Array[]): Float32Array[] => block.map((side) => side.subarray(from, to));
      expect(snrDb(part(input), part(output))).toBe(Number.POSITIVE_INFINITY);
    }
  });

  it('turns both sides down together, so that places stay', () => {
    const input = notes(6, 48_000, 1.5);
    const output = runInBlocks(limiter(), input, 4096);
    const left = output[0]!.map((value, n) => value * input[1]![n]!);
    const right = output[1]!.map((value, n) => value * input[0]![n]!);
    expect(snrDb([left], [right])).toBeGreaterThan(130);
  });

  it('has a gain that moves by less than 0.17 dB per frame around a peak 12 dB too loud', () => {
    const input = [new Float32Array(9600).fill(0.1), new Float32Array(9600).fill(0.1)];
    for (let n = 4800; n < 4804; n++) input[0]![n] = 3.5;
    const output = runInBlocks(limiter(), input, 4096);
    for (let n = 1; n < 9600; n++) {
      const step = 20 * Math.log10(output[1]![n]! / output[1]![n - 1]!);
      expect(Math.abs(step)).toBeLessThan(0.17);
    }
  });

  it('reports its work: most and mean reduction in dB, and the part of the time', () => {
    const stage = new Limiter({ rateHz, channels: 1, ceilingDbtp: -1 });
    const sine = (amplitude: number): Float32Array =>
      Float32Array.from({ length: 48_000 }, (_, n) => amplitude * Math.sin((2 * Math.PI * 997 * n) / rateHz));
    stage.process([sine(0.5)]);
    stage.process([sine(2)]);
    stage.flush();
    const work = stage.work();
    // 6.02 dB over full scale, 1 dB ceiling, 0.05 dB margin; the first wave's edge adds a little.
    expect(work.mostDb).toBeGreaterThan(7.05);
    expect(work.mostDb).toBeLessThan(7.4);
    expect(work.meanDb).toBeGreaterThan(6.8);
    expect(work.meanDb).toBeLessThanOrEqual(work.mostDb);
    expect(work.share).toBeCloseTo(0.5, 1);
  });

  it('gives back a sound shorter than its latency, whole', () => {
    const input = [Float32Array.of(0.1, 0.2, 0.3), Float32Array.of(0.3, 0.2, 0.1)];
    expect(runInBlocks(limiter(), input, 2).map((samples) => Array.from(samples))).toEqual(
      input.map((samples) => Array.from(samples)),
    );
  });

  it('refuses a ceiling above 0 dBTP', () => {
    expect(() => limiter(1)).toThrow(RangeError);
  });
});
