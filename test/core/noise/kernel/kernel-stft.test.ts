import { describe, expect, it } from 'vitest';
import { loadKernel } from '../../../../core/noise/kernel/kernel.ts';
import type { StftPlan } from '../../../../core/noise/kernel/stft-plan.ts';
import { RealFft } from '../../../../core/signal/fft.ts';
import { Random } from '../../../../core/signal/random.ts';
import { makeWindow, type WindowShape } from '../../../../core/signal/window.ts';

const kernel = loadKernel()!;

/** Analysis and synthesis windows alike; `sum` is what their overlapped products add up to. */
function setWindows(plan: StftPlan, shape: WindowShape, sum: number): void {
  const window = makeWindow(shape, plan.size);
  plan.analysisWindow.set(window);
  plan.synthesisWindow.set(window.map((value) => value / sum));
}

/** Feeds whole calls of `frames` frames, then zeros until all has come out; gives the output in the input's own time. */
function through(
  plan: StftPlan,
  x: Float32Array,
  frames: number,
  step = (n: number) => void plan.process(n),
): Float32Array {
  const chunk = frames * plan.hop;
  const collected: number[] = [];
  for (let at = 0; collected.length < x.length + plan.leadSamples; at += chunk) {
    const input = plan.input;
    input.fill(0);
    input.set(x.subarray(Math.min(at, x.length), Math.min(at + chunk, x.length)));
    step(frames);
    collected.push(...plan.output);
  }
  return Float32Array.from(collected.slice(plan.leadSamples, plan.leadSamples + x.length));
}

function same(a: Float32Array, b: Float32Array): boolean {
  return a.length === b.length && a.every((value, n) => value === b[n]);
}

function snrDb(actual: Float32Array, expected: Float32Array): number {
  let error = 0;
  let power = 0;
  for (let n = 0; n < expected.length; n++) {
    error += (actual[n]! - expected[n]!) ** 2;
    power += expected[n]! ** 2;
  }
  return 10 * Math.log10(power / error);
}

function music(length: number, seed: number): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length }, (_, n) => 0.3 * Math.sin(0.031 * n) + 0.05 * random.gaussian());
}

describe('kernel STFT', () => {
  it.each([
    ['sine', 512, 256, 1],
    ['sine', 2048, 512, 2],
    ['sine', 16384, 8192, 1],
    ['hann', 4096, 1024, 1.5],
    ['hann', 8192, 1024, 3],
  ] as const)(
    'CV-4.3: %s window %i, hop %i, sums to %d: unity gains return the input, SNR above 110 dB',
    (shape, size, hop, sum) => {
      const plan = kernel.plan({ size, hop, callFrames: 5 });
      setWindows(plan, shape, sum);
      const x = music(3 * size + 777, 11);
      const y = through(plan, x, 5);
      expect(snrDb(y, x)).toBeGreaterThan(110);
    },
  );

  it.each([
    ['hann', 2048, 'ones', 1],
    ['hann', 1024, 'ones', 2],
    ['hann', 512, 'ones', 4],
    ['hann', 1024, 'same', 1.5],
    ['hann', 512, 'same', 3],
    ['sine', 2048, 'same', 1],
    ['sine', 1024, 'same', 2],
  ] as const)(
    'CV-4.3: %s 4096 at hop %i, synthesis %s: a constant 1 comes out as %d within 1e-5',
    (shape, hop, synthesis, sum) => {
      const plan = kernel.plan({ size: 4096, hop, callFrames: 2 });
      const window = makeWindow(shape, 4096);
      plan.analysisWindow.set(window);
      if (synthesis === 'same') plan.synthesisWindow.set(window);
      const y = through(plan, new Float32Array(12288).fill(1), 2);
      // The last window's worth overlaps the zeros after the end.
      const inner = y.subarray(0, 12288 - 4096);
      const worst = inner.reduce((largest, value) => Math.max(largest, Math.abs(value - sum)), 0);
      expect(worst).toBeLessThan(1e-5);
    },
  );

  it('gives the same samples in calls of 1, 3 and 7 frames', () => {
    const x = music(20000, 12);
    const [one, three, seven] = [1, 3, 7].map((frames) => {
      const plan = kernel.plan({ size: 1024, hop: 256, callFrames: 7, aheadFrames: 2 });
      setWindows(plan, 'sine', 2);
      return through(plan, x, frames);
    });
    expect(same(three!, one!)).toBe(true);
    expect(same(seven!, one!)).toBe(true);
  });

  it('states its latency with 3 frames of look-ahead, and reset equals new', () => {
    const plan = kernel.plan({ size: 1024, hop: 256, callFrames: 4, aheadFrames: 3 });
    setWindows(plan, 'hann', 1.5);
    expect(plan.latencySamples).toBe(768 + 3 * 256);
    expect(plan.process(2)).toBe(0);
    expect(plan.process(2)).toBe(1);
    plan.reset();
    const x = music(9000, 13);
    const first = through(plan, x, 4);
    expect(snrDb(first, x)).toBeGreaterThan(110);
    plan.reset();
    expect(same(through(plan, x, 4), first)).toBe(true);
  });

  it('keeps the spectra of the last frames, each as the double transform has it within 1e-6 rms', () => {
    const plan = kernel.plan({ size: 512, hop: 128, callFrames: 4, ringFrames: 6 });
    setWindows(plan, 'sine', 2);
    const x = music(4 * 128 * 3, 14);
    for (let call = 0; call < 3; call++) {
      plan.input.set(x.subarray(call * 512, call * 512 + 512));
      plan.process(4);
    }
    expect(plan.analysed).toBe(12);
    const window = makeWindow('sine', 512);
    const re = new Float64Array(257);
    const im = new Float64Array(257);
    for (let frame = 6; frame < 12; frame++) {
      const from = frame * 128 - 384;
      new RealFft(512).forward(
        window.map((value, n) => value * x[from + n]!),
        re,
        im,
      );
      const kept = plan.spectrum(frame);
      let error = 0;
      let power = 0;
      for (let k = 0; k < 257; k++) {
        error += (kept.re[k]! - re[k]!) ** 2 + (kept.im[k]! - im[k]!) ** 2;
        power += re[k]! ** 2 + im[k]! ** 2;
      }
      expect(Math.sqrt(error / power)).toBeLessThan(1e-6);
    }
    expect(() => plan.spectrum(5)).toThrow('frame is 5; kept are the last 6 up to 11');
  });

  it('applies gains per bin: half gain everywhere lowers a take by 6.02 dB', () => {
    const plan = kernel.plan({ size: 2048, hop: 512, callFrames: 8, aheadFrames: 1 });
    setWindows(plan, 'sine', 2);
    plan.gains.fill(0.5);
    const x = music(12000, 15);
    const half = x.map((value) => value / 2);
    expect(snrDb(through(plan, x, 8), half)).toBeGreaterThan(110);
  });

  it('works in separate analysis and synthesis with gains set frame by frame between them', () => {
    const plan = kernel.plan({ size: 1024, hop: 512, callFrames: 3, ringFrames: 3 });
    setWindows(plan, 'sine', 1);
    const x = music(8000, 16);
    const y = through(plan, x, 3, (frames) => {
      plan.analyse(frames);
      for (let f = plan.analysed - frames; f < plan.analysed; f++) plan.spectrum(f).gain.fill(0.25);
      plan.synthesise(frames);
    });
    expect(
      snrDb(
        y,
        x.map((value) => value / 4),
      ),
    ).toBeGreaterThan(110);
  });

  it('silence stays silence', () => {
    const plan = kernel.plan({ size: 512, hop: 128, callFrames: 4 });
    setWindows(plan, 'sine', 2);
    expect(through(plan, new Float32Array(3000), 4).every((value) => value === 0)).toBe(true);
  });

  it('keeps two plans of different sizes apart in one instance', () => {
    const x = music(30000, 17);
    const long = kernel.plan({ size: 8192, hop: 2048, callFrames: 2 });
    const short = kernel.plan({ size: 512, hop: 128, callFrames: 32 });
    setWindows(long, 'sine', 2);
    setWindows(short, 'sine', 2);
    let fromShort = 0;
    const y = through(long, x, 2, (frames) => {
      short.input.set(long.input);
      long.process(frames);
      short.process(32);
      fromShort += short.output.length;
    });
    expect(snrDb(y, x)).toBeGreaterThan(110);
    expect(fromShort).toBe(4096 * 9);
  });

  it('refuses impossible shapes and calls, and says what is allowed', () => {
    expect(() => kernel.plan({ size: 1000, hop: 250 })).toThrow('power of two from 512 to 16384');
    expect(() => kernel.plan({ size: 16384, hop: 4096, ringFrames: 40000 })).toThrow('below 1 GiB');
    expect(() => kernel.plan({ size: 512, hop: 512, callFrames: 2 ** 23 })).toThrow('below 1 GiB');
    expect(() => kernel.plan({ size: 256, hop: 64 })).toThrow(RangeError);
    expect(() => kernel.plan({ size: 1024, hop: 255 })).toThrow(RangeError);
    expect(() => kernel.plan({ size: 1024, hop: 256, ringFrames: 2, aheadFrames: 2 })).toThrow(RangeError);
    const plan = kernel.plan({ size: 1024, hop: 256, callFrames: 2, ringFrames: 3 });
    expect(() => plan.process(3)).toThrow('process of 3 frames; allowed 1 to 2 a call');
    expect(() => plan.synthesise(1)).toThrow(RangeError);
    plan.analyse(2);
    expect(() => plan.analyse(2)).toThrow('2 analysed, 0 synthesised');
  });
});
