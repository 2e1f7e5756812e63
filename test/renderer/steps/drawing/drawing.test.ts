import { describe, expect, it } from 'vitest';
import { evenTicks, hzTicks, hzWords, levelRange, logScale } from '../../../../renderer/steps/drawing/axes.ts';
import { inkPalette, lightness, parseColour, type Rgb } from '../../../../renderer/steps/drawing/ink.ts';
import { takeAtHand, takesInOrder } from '../../../../renderer/steps/drawing/take-at-hand.ts';
import { sessionSecAt, spanInTake, takeSecAt } from '../../../../renderer/steps/drawing/take-time.ts';
import { trueMinus } from '../../../../renderer/steps/drawing/true-minus.ts';
import { benchSession } from '../bench-session.ts';

describe('axes', () => {
  it('puts octaves at equal distances', () => {
    const x = logScale(100, 1600, 0, 400);
    expect([100, 200, 400, 800, 1600].map(x).map((at) => Math.round(at))).toEqual([0, 100, 200, 300, 400]);
  });

  it('writes round frequencies between its ends', () => {
    expect(hzTicks(40, 1000).map((tick) => tick.words)).toEqual(['50 Hz', '100 Hz', '200 Hz', '500 Hz', '1 kHz']);
    expect(hzWords(7812)).toBe('7.8 kHz');
  });

  it('writes at most as many round numbers as asked', () => {
    expect(evenTicks(-20, 20, 4)).toEqual([-20, -10, 0, 10, 20]);
    expect(evenTicks(0.13, 0.97, 3)).toEqual([0.5]);
  });

  it('spans whole 20 dB around all levels, and something even around none', () => {
    expect(levelRange([-61, -97], 20, -160)).toEqual({ low: -100, top: -40 });
    expect(levelRange([], 20, -160)).toEqual({ low: -160, top: -140 });
  });
});

describe('ink', () => {
  const themes: readonly (readonly [string, string])[] = [
    ['#fffdf7', '#2a241c'],
    ['#1c1f26', '#ece5d6'],
  ];

  it('goes from paper to ink in even steps of lightness, within 10 % of a 16th, by day and by night', () => {
    for (const [paper, ink] of themes) {
      const palette = inkPalette(parseColour(paper), parseColour(ink));
      const shades = Array.from({ length: 17 }, (_, n) => {
        const at = 4 * Math.round((n * 255) / 16);
        return lightness([palette[at]!, palette[at + 1]!, palette[at + 2]!] as Rgb);
      });
      const step = (shades[16]! - shades[0]!) / 16;
      for (let n = 1; n <= 16; n++)
        expect(Math.abs(shades[n]! - shades[n - 1]! - step)).toBeLessThan(0.1 * Math.abs(step) + 0.003);
    }
  });

  it('begins and ends with the colours it was given', () => {
    const palette = inkPalette([255, 253, 247], [42, 36, 28]);
    expect([...palette.slice(0, 4)]).toEqual([255, 253, 247, 255]);
    expect([...palette.slice(1020)]).toEqual([42, 36, 28, 255]);
    expect(parseColour('rgb(1, 2, 3)')).toEqual([1, 2, 3]);
  });
});

describe('times of a take', () => {
  it('go to the session and back, with drift, within a nanosecond', () => {
    const lie = { offsetSec: -0.4, driftPpm: 120 };
    expect(takeSecAt(sessionSecAt(300, lie), lie)).toBeCloseTo(300, 9);
  });

  it('hold a selected stretch inside the take, and give none outside', () => {
    const lie = { offsetSec: 2, driftPpm: 0 };
    expect(spanInTake({ fromSec: 1, toSec: 5 }, lie, 60)).toEqual({ fromSec: 0, toSec: 3 });
    expect(spanInTake({ fromSec: 0, toSec: 1 }, lie, 60)).toBeNull();
  });
});

describe('take in hand', () => {
  it('is the one chosen, else the first that sounds', () => {
    const session = benchSession(3);
    expect(takeAtHand(session, 'take-2')?.take.id).toBe('take-2');
    expect(takeAtHand(session, 'gone')?.take.id).toBe('take-1');
    expect(takesInOrder({ ...session, voices: session.voices.toReversed() })[0]?.take.id).toBe('take-3');
  });

  it('sounds where its voice is made of passages of it', () => {
    const session = benchSession(2);
    const passages = ['take-1', 'take-2'].map((takeId, n) => ({ takeId, fromSec: n, toSec: n + 1 }));
    const voices = [{ ...session.voices[0]!, passages }];
    const takes = session.takes.map((take) => ({ ...take, voiceId: 'voice-1' }));
    const third = { ...takes[0]!, id: 'take-3' };
    const all = takesInOrder({ ...session, voices, takes: [...takes, third] });
    expect(all.map(({ sounds }) => sounds)).toEqual([true, true, false]);
  });
});

it('writes true minus signs before numbers, and leaves hyphens in words', () => {
  expect(trueMinus('at -24.0 LUFS, moved by (-1.0) in the sign-post')).toBe(
    'at −24.0 LUFS, moved by (−1.0) in the sign-post',
  );
});
