import { describe, expect, it } from 'vitest';
import { MixChain, type MixChainSettings } from '../../../core/mix/mix-chain.ts';
import { Master } from '../../../core/mix/mixdown.ts';
import { MixBus } from '../../../core/mix/mixer.ts';
import { SpanFade } from '../../../core/mix/span-fade.ts';
import type { Block } from '../../../core/signal/block.ts';
import { Random } from '../../../core/signal/random.ts';
import { processorSuite, runInBlocks, snrDb } from '../../processor-suite.ts';

const rateHz = 48000;
const settings: MixChainSettings = {
  rateHz,
  voices: [
    { gainDb: 3, placeDeg: -20, lowCutHz: 60, muted: false },
    { gainDb: -2, placeDeg: 35, lowCutHz: 30, muted: false },
    { gainDb: 0, placeDeg: 0, lowCutHz: null, muted: true },
  ],
  span: { fromSec: 0.4, toSec: 2.6 },
  masterGainDb: 8,
  ceilingDbtp: -1,
};

function voices(seed: number, frames: number): Float32Array[] {
  const random = new Random(seed);
  return settings.voices.map(() =>
    Float32Array.from({ length: frames }, (_, n) => (n % 9000 < 3000 ? 0.5 : 0.1) * (2 * random.uniform() - 1)),
  );
}

/** The chain as a stage, for the shared suite: a channel a voice. */
function asStage(chain: () => MixChain) {
  let made = chain();
  let at = 0;
  return {
    latencyFrames: made.latencyFrames,
    process(input: Block): Block {
      const output = made.process(
        input.map((samples) => [samples]),
        at,
      );
      at += input[0]!.length;
      return output;
    },
    flush: () => made.flush(),
    reset() {
      made = chain();
      at = 0;
    },
  };
}

describe('MixChain', () => {
  describe('as a Processor, its limiter at work', () => {
    processorSuite({
      make: () => asStage(() => new MixChain({ ...settings, span: null })),
      inputChannels: 3,
      impulse: 'none',
    });
  });

  it('gives the very samples of a mixdown: bus, fades, gain and limiter in blocks of 16384 frames; seed 5', () => {
    const input = voices(5, 3 * rateHz);
    const bus = new MixBus(settings.voices, rateHz);
    const fade = new SpanFade(settings.span, rateHz);
    const sum = [new Float32Array(3 * rateHz), new Float32Array(3 * rateHz)];
    for (let from = 0; from < 3 * rateHz; from += 16384) {
      const part = bus.process(input.map((samples) => [samples.slice(from, from + 16384)]));
      fade.apply(part, from);
      for (const [channel, samples] of part.entries()) sum[channel]!.set(samples, from);
    }
    const master = new Master({ gainDb: settings.masterGainDb, ceilingDbtp: settings.ceilingDbtp }, rateHz);
    const wanted = runInBlocks(master, sum, 16384);
    const got = runInBlocks(
      asStage(() => new MixChain(settings)),
      input,
      128,
    );
    expect(master.work().mostDb).toBeGreaterThan(3);
    expect(snrDb(wanted, got)).toBe(Number.POSITIVE_INFINITY);
  });

  it('glides a new gain at the end over 0.5 s, evenly in dB, and lands on it exactly', () => {
    const one: MixChainSettings = {
      ...settings,
      voices: [{ gainDb: 0, placeDeg: -90, lowCutHz: null, muted: false }],
      span: null,
      masterGainDb: -20,
    };
    const chain = new MixChain(one);
    chain.setMasterGain(-8);
    const steady = new Float32Array(rateHz).fill(1);
    const left = runInBlocks(
      asStage(() => chain),
      [steady],
      128,
    )[0]!;
    const db = (frame: number): number => 20 * Math.log10(left[frame]!);
    expect(db(0)).toBeCloseTo(-20, 2);
    expect(db(12_000)).toBeCloseTo(-14, 2);
    expect(left[24_000]).toBe(Math.fround(10 ** (-8 / 20)));
  });

  it('opens and closes the span while it runs within 20 ms, without a step above 0.002', () => {
    const fade = new SpanFade({ fromSec: 10, toSec: 20 }, rateHz);
    const heard: number[] = [];
    for (let at = 0; at < 9600; at += 96) {
      if (at === 1920) fade.setOpen(true);
      if (at === 5760) fade.setOpen(false);
      const block = [new Float32Array(96).fill(1)];
      fade.apply(block, at);
      heard.push(...block[0]!);
    }
    expect(heard[1919]).toBe(0);
    expect(heard[1920 + 960]).toBe(1);
    expect(heard[5760 + 960]).toBe(0);
    for (let n = 1; n < heard.length; n++) expect(Math.abs(heard[n]! - heard[n - 1]!)).toBeLessThan(0.002);
  });

  it('tells how far the limiter turned down since it was last asked, dB', () => {
    const chain = new MixChain({ ...settings, span: null });
    const loud = voices(9, 4800).map((samples) => [samples]);
    chain.process(loud, 0);
    expect(chain.takeLimiterDb()).toBeGreaterThan(1);
    const still = settings.voices.map(() => [new Float32Array(96_000)]);
    chain.process(still, 4800);
    chain.takeLimiterDb();
    chain.process(still, 100_800);
    expect(chain.takeLimiterDb()).toBe(0);
  });
});
