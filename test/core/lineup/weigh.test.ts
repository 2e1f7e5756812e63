import { describe, expect, it } from 'vitest';
import { weigh } from '../../../core/lineup/weigh.ts';
import type { Testimony } from '../../../core/lineup/witness.ts';
import { Random } from '../../../core/signal/random.ts';

const ASK = (): string => 'Where does it belong?';

function says(kind: Testimony['kind'], atSec: number, takeSec: number, uncertaintySec: number, trust = 0.9): Testimony {
  return { kind, atSec, takeSec, uncertaintySec, trust, note: 'A note.' };
}

describe('the weighing of witnesses', () => {
  it('takes the mean by inverse variance', () => {
    const out = weigh([says('clap', 3, 5.012, 0.012), says('onsets', 3, 5, 0.006)], ASK);
    expect(out.kind).toBe('placed');
    expect(out.kind === 'placed' && -out.offsetSec).toBeCloseTo(2.0024, 6);
    expect(out.evidence.map((one) => Math.round(one.weight * 100))).toEqual([20, 80]);
  });

  it('knows a place the less the more clap and notes disagree, and as well as before where they agree', () => {
    const exactness = (apartSec: number): number => {
      const out = weigh([says('clap', 3, 5 + apartSec, 0.0125), says('onsets', 3, 5, 0.006)], ASK);
      expect(out.evidence.every((one) => one.accepted)).toBe(true);
      return out.kind === 'placed' ? out.uncertaintySec : 0;
    };
    const usual = 1 / Math.hypot(1 / 0.0125, 1 / 0.006);
    expect(exactness(0.01)).toBeCloseTo(usual, 9);
    // Birge 1932: the errors grow by the root of the sum of squares over its expectation, which is here one square.
    expect(exactness(0.03)).toBeCloseTo((usual * 0.03) / Math.hypot(0.0125, 0.006), 9);
  });

  it('moves no place by what a witness leaves in doubt, and knows it the less by the share that rests on that witness', () => {
    const clap = says('clap', 3, 5.01, 0.012);
    const notes = says('onsets', 3, 5, 0.006);
    const sure = weigh([clap, notes], ASK);
    const doubted = weigh([clap, { ...notes, doubtSec: 0.02 }], ASK);
    if (sure.kind !== 'placed' || doubted.kind !== 'placed') throw new Error('not placed');
    expect(doubted.offsetSec).toBe(sure.offsetSec);
    expect(doubted.uncertaintySec).toBeCloseTo(Math.hypot(sure.uncertaintySec, 0.8 * 0.02), 9);
    expect(doubted.evidence.find((one) => one.kind === 'onsets')!.uncertaintySec).toBeCloseTo(
      Math.hypot(0.006, 0.02),
      9,
    );
  });

  it('knows a place by leakage that is hardly to be trusted no better than what else is heard allows', () => {
    const placed = (trust: number): number => {
      const out = weigh([says('onsets', 20, 22, 0.007), says('bleed', 20, 22.02, 0.0003, trust)], ASK);
      return out.kind === 'placed' ? out.uncertaintySec : 0;
    };
    expect(placed(0.95)).toBeLessThan(0.0004);
    // It lies 20 ms off what the notes say, and they are good to 7 ms themselves.
    expect(placed(0.5)).toBeCloseTo(Math.hypot(0.02, 0.007), 4);
  });

  it('sets aside a clap that is 300 ms off and says so', () => {
    const out = weigh(
      [says('clap', 3, 5.3, 0.0125), says('onsets', 20, 22, 0.007), says('bleed', 18, 20.002, 0.0003)],
      ASK,
    );
    expect(out.kind === 'placed' && Math.abs(out.offsetSec + 2.002)).toBeLessThan(0.0005);
    const clap = out.evidence.find((one) => one.kind === 'clap')!;
    expect(clap.accepted).toBe(false);
    expect(clap.weight).toBe(0);
    expect(clap.note).toContain('set aside');
  });

  it('draws a drift that is hardly known towards zero', () => {
    const vague = { ...says('onsets', 20, 22, 0.007), driftPpm: 300, driftUncertaintyPpm: 300 };
    const out = weigh([vague], ASK);
    expect(out.kind === 'placed' && Math.abs(out.driftPpm)).toBeLessThan(5);
  });

  it('believes a drift of 300 ppm that is well measured, within 3 ppm', () => {
    const sharp = { ...says('bleed', 20, 22, 0.0003), driftPpm: 300, driftUncertaintyPpm: 3 };
    const out = weigh([sharp], ASK);
    expect(out.kind === 'placed' && Math.abs(out.driftPpm - 300)).toBeLessThan(3);
  });

  it('asks when the only witness is not trusted', () => {
    const out = weigh([says('clap', 3, 5, 0.012, 0.3)], ASK);
    expect(out.kind).toBe('question');
    expect(out.kind === 'question' && out.best?.offsetSec).toBeCloseTo(-2, 6);
  });

  it('asks when there is no witness', () => {
    expect(weigh([], ASK)).toEqual({ kind: 'question', confidence: 0, reason: ASK(), evidence: [] });
  });

  it('finds the drift within 1 ppm over 10 min from two anchors known to 0.1 ms', () => {
    const random = new Random(1);
    for (let n = 0; n < 50; n++) {
      const ppm = 40 * random.gaussian();
      const anchor = (atSec: number): Testimony =>
        says('clap', atSec, 2 + atSec * (1 + ppm * 1e-6) + 0.0001 * random.gaussian(), 0.0001);
      const out = weigh([anchor(5), anchor(605)], ASK);
      expect(out.kind === 'placed' && Math.abs(out.driftPpm - ppm), `trial ${n}`).toBeLessThan(1);
    }
  });

  it('takes a drift that notes tell so that a take lies no worse for it, and states what holds in 95 % of takes', () => {
    const random = new Random(2);
    let inside = 0;
    let worse = 0;
    const count = 1000;
    for (let n = 0; n < count; n++) {
      const ppm = 30 * random.gaussian();
      const told = { driftPpm: ppm + 15 * random.gaussian(), driftUncertaintyPpm: 15 };
      const out = weigh([{ ...says('onsets', 300, 302, 0.006), ...told }], ASK);
      if (out.kind !== 'placed') continue;
      if (Math.abs(out.driftPpm - ppm) <= 2 * out.driftUncertaintyPpm) inside++;
      if (Math.abs(out.driftPpm - ppm) > Math.abs(ppm)) worse++;
    }
    expect(inside / count).toBeGreaterThan(0.95);
    expect(worse / count).toBeLessThan(0.01);
  });
});
