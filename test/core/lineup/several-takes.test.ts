import { describe, expect, it } from 'vitest';
import { severalTakes } from '../../../core/lineup/several-takes.ts';
import { listenTo } from '../../../core/lineup/take-listener.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';

const RATE_HZ = 16000;

/** A clip of noise at -60 dBFS with claps and stretches of music. */
function clip(lengthSec: number, clapsSec: readonly number[], music: readonly (readonly [number, number])[]) {
  const random = new Random(7);
  const samples = Float32Array.from({ length: lengthSec * RATE_HZ }, () => 0.001 * random.gaussian());
  for (const atSec of clapsSec) {
    for (let n = 0; n < 4000; n++)
      samples[Math.round(atSec * RATE_HZ) + n]! += 0.5 * Math.exp(-n / 400) * random.gaussian();
  }
  for (const [fromSec, toSec] of music) {
    for (let n = Math.round(fromSec * RATE_HZ); n < toSec * RATE_HZ; n++) {
      const sec = n / RATE_HZ - fromSec;
      const note = Math.floor(sec / 0.5);
      const shape = Math.min(1, ((sec % 0.5) + 0.001) / 0.02) * Math.exp(-2 * (sec % 0.5));
      samples[n]! += 0.15 * shape * Math.sin(2 * Math.PI * 220 * 2 ** (((note * 5) % 12) / 12) * sec);
    }
  }
  return severalTakes(listenTo(soundOf(samples, RATE_HZ)));
}

describe('a clip with several takes one after another', () => {
  it('is known by its claps, each within 10 ms', () => {
    const claps = [5, 35.2, 71.7];
    const found = clip(100, claps, [
      [9, 28],
      [39.2, 62],
      [75.7, 95],
    ]);
    expect(found).toHaveLength(3);
    for (const [n, atSec] of found.entries()) expect(Math.abs(atSec - claps[n]!)).toBeLessThan(0.01);
  });

  it('is not one with a long rest in its music, nor one with a clap at its end', () => {
    const music = [
      [9, 28],
      [36, 50],
    ] as const;
    expect(clip(60, [5], music)).toEqual([]);
    expect(clip(60, [5, 55], music)).toEqual([]);
    expect(clip(60, [5, 55], [[9, 50]])).toEqual([]);
  });

  it('is not one with a click that goes on through a long rest', () => {
    const clicks = Array.from({ length: 14 }, (_, n) => 28.4 + 0.8 * n);
    expect(
      clip(
        60,
        [5, ...clicks.filter((atSec) => atSec < 38)],
        [
          [9, 28],
          [38.5, 56],
        ],
      ),
    ).toEqual([]);
  });

  it('is not one in which only tuning came before', () => {
    expect(
      clip(
        60,
        [14],
        [
          [3, 8],
          [18, 50],
        ],
      ),
    ).toEqual([]);
  });
});
