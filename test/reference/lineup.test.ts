import { describe, expect, it } from 'vitest';
import { findBleed, GuidePrint } from '../../core/lineup/bleed.ts';
import { placeTakes } from '../../core/lineup/lineup.ts';
import { speedOfSound } from '../../core/lineup/sentences.ts';
import { listenTo } from '../../core/lineup/take-listener.ts';
import { TICK_SEC } from '../../core/lineup/trace.ts';
import type { Placement } from '../../core/lineup/witness.ts';
import { Random } from '../../core/signal/random.ts';
import { soundOf } from '../../core/signal/sound.ts';
import { inventGuide, inventTake } from '../core/lineup/invented-session.ts';

/** Drifts to test: 0, 20, 100 and 300 ppm either way (CV-5.5: crystals 20 ppm, a published pair of phones 273 ppm). */
const DRIFTS_PPM = [0, 20, -20, 100, -100, 300, -300] as const;

function driftOf(placement: Placement): number {
  if (placement.kind !== 'placed') throw new Error(`not placed: ${placement.reason}`);
  return placement.driftPpm;
}

describe('CV-5.1 speed of sound', () => {
  it.each([
    [0, 331.3],
    [20, 343.21],
  ])('is at %f degrees %f m/s', (celsius, expected) => {
    expect(speedOfSound(celsius)).toBeCloseTo(expected, 2);
  });

  it('is 2.914 ms a metre at 20 degrees', () => {
    expect(1000 / speedOfSound(20)).toBeCloseTo(2.914, 3);
  });
});

describe('CV-5.2 generalised cross-correlation (Knapp and Carter 1976)', () => {
  it.each([0, 137, -512, 4800])(
    'finds a delay of %i samples at 0.3 gain under noise within a quarter sample',
    (delay) => {
      const random = new Random(52);
      const rateHz = 48000;
      const first = new Float32Array(6 * rateHz);
      for (let n = rateHz; n < 5 * rateHz; n++) first[n] = 0.3 * random.gaussian();
      const second = new Float32Array(first.length);
      for (let n = 0; n < second.length; n++) second[n] = 0.3 * (first[n - delay] ?? 0) + 0.05 * random.gaussian();
      const guide = soundOf(first, rateHz);
      const print = new GuidePrint(guide, listenTo(guide).energy, TICK_SEC);
      const assumedSec = delay === 4800 ? 0.09 : 0;
      const expected = { spreadSec: 0.02, driftSpreadPpm: 10, confirmed: true };
      const fit = findBleed(print, soundOf(second, rateHz), assumedSec, 0, expected)!.whole;
      expect(fit.heard).toBe(true);
      // 48 kHz sound is compared at 8 kHz with lags of a sixteenth of a millisecond and a parabola between them.
      expect(Math.abs((assumedSec + fit.laterSec) * rateHz - delay)).toBeLessThan(0.25);
    },
  );
});

describe('CV-5.5 clock drift', () => {
  const guide = inventGuide(55, 150);
  const plain = { noteSpreadSec: 0.015, noise: 0.001, bleed: 0, clapsSec: [] };

  it.each(DRIFTS_PPM)('reads %i ppm from two claps 150 s apart within 3 ppm', (driftPpm) => {
    const plan = {
      ...plain,
      seed: 1,
      truth: { leadSec: 2.345, driftPpm },
      clapsSec: [guide.cueSec, guide.secondCueSec],
    };
    const placement = placeTakes([{ id: 'take', sound: inventTake(guide, plan) }], guide.sound).get('take')!;
    expect(Math.abs(driftOf(placement) - driftPpm)).toBeLessThan(3);
  });

  it.each(DRIFTS_PPM)(
    'reads %i ppm from bleed 40 dB below the playing within 3 ppm, and places to 1 ms',
    (driftPpm) => {
      const plan = {
        ...plain,
        seed: 2,
        truth: { leadSec: 2.345, driftPpm },
        clapsSec: [guide.cueSec + 0.015],
        bleed: 0.01,
      };
      const placement = placeTakes([{ id: 'take', sound: inventTake(guide, plan) }], guide.sound).get('take')!;
      expect(placement.evidence.some((one) => one.kind === 'bleed' && one.accepted)).toBe(true);
      expect(Math.abs(driftOf(placement) - driftPpm)).toBeLessThan(3);
      if (placement.kind !== 'placed') return;
      for (const at of [guide.musicFromSec, guide.musicToSec]) {
        const found = (at - placement.offsetSec) * (1 + placement.driftPpm * 1e-6);
        expect(Math.abs(found - 2.345 - at * (1 + driftPpm * 1e-6))).toBeLessThan(0.001);
      }
    },
  );

  it('reads 250 ppm from bleed in a piece of 40 s within 5 ppm', () => {
    const short = inventGuide(56, 40);
    const truth = { leadSec: 3.21, driftPpm: 250 };
    const plan = { ...plain, seed: 5, truth, clapsSec: [short.cueSec - 0.012], bleed: 0.01 };
    const placement = placeTakes([{ id: 'take', sound: inventTake(short, plan) }], short.sound).get('take')!;
    expect(Math.abs(driftOf(placement) - 250)).toBeLessThan(5);
  });

  it('reads 300 ppm from 150 s of notes alone within 60 ppm, the most their scatter allows', () => {
    const plan = { ...plain, seed: 4, truth: { leadSec: 2.345, driftPpm: 300 } };
    const placement = placeTakes([{ id: 'take', sound: inventTake(guide, plan) }], guide.sound).get('take')!;
    expect(Math.abs(driftOf(placement) - 300)).toBeLessThan(60);
  });

  it('leaves 16.4 ms a minute at 273 ppm, and takes it away', () => {
    expect(60 * 273e-6 * 1000).toBeCloseTo(16.4, 1);
    const truth = { leadSec: 1, driftPpm: 273 };
    const plan = { ...plain, seed: 3, truth, clapsSec: [guide.cueSec, guide.secondCueSec] };
    const placement = placeTakes([{ id: 'take', sound: inventTake(guide, plan) }], guide.sound).get('take')!;
    expect(Math.abs(driftOf(placement) - 273) * 60e-3).toBeLessThan(0.2);
  });
});
