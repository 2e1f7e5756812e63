import { describe, expect, it } from 'vitest';
import type { PlaceOdds } from '../../../core/lineup/jump-odds.ts';
import { WaveBreaks } from '../../../core/lineup/wave-breaks.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { addNoise, addNotes, RATE_HZ } from './invented-session.ts';

const LENGTH_SEC = 20;
const CLOCK = { takeSecOf: (sec: number): number => sec, sessionSecOf: (sec: number): number => sec };

/** Held notes of 2.2 s, 25 dB over noise, with so much lost (negative: doubled) at a moment. */
function takeWith(atSec: number, lostSec: number): ReturnType<typeof soundOf> {
  const random = new Random(5);
  const samples = new Float32Array(LENGTH_SEC * RATE_HZ);
  addNoise(samples, 0.008, random);
  const notes = Array.from({ length: 8 }, (_, n) => ({ atSec: 0.3 + 2.4 * n, hz: 200 + 37 * n, lengthSec: 2.2 }));
  addNotes(samples, notes, 0.2, { leadSec: 0, driftPpm: 0 });
  const at = Math.round(atSec * RATE_HZ);
  const lost = Math.round(lostSec * RATE_HZ);
  const cut = new Float32Array(samples.length - lost);
  cut.set(samples.subarray(0, at));
  cut.set(samples.subarray(at + lost), at);
  return soundOf(cut, RATE_HZ);
}

/** What other witnesses say of places a second apart. */
function saying(gainAt: (sec: number) => number, lengthSec = LENGTH_SEC): PlaceOdds[] {
  return Array.from({ length: lengthSec }, (_, n) => {
    const none = { likely: 0, likeliestOffSec: 0, offSec: 0, offErrorSec: 0, offRmsSec: 0, wave: undefined };
    return { ...none, atSec: n + 0.5, side: 'after' as const, gain: gainAt(n + 0.5) };
  });
}

function breaksFound(sound: ReturnType<typeof soundOf>, gain: number): WaveBreaks {
  const waves = new WaveBreaks(sound);
  const odds = saying((sec) => (Math.abs(sec - 8.5) < 1 ? gain : -5));
  waves.lookAbout(odds, CLOCK, 0, LENGTH_SEC);
  return waves;
}

describe('where the wave is looked at for breaks', () => {
  it('finds sound lost or doubled where the other witnesses leave a jump open', () => {
    for (const lostSec of [0.02, -0.02]) {
      const found = breaksFound(takeWith(8.4, lostSec), 1).on(CLOCK);
      expect(found.some(({ takeSec }) => Math.abs(takeSec - 8.4) < 0.002)).toBe(true);
    }
  });

  it('finds doubled sound, but not lost, where they speak against one a little, and neither where they speak against it', () => {
    const lost = breaksFound(takeWith(8.4, 0.02), -0.5);
    expect(lost.on(CLOCK)).toEqual([]);
    const doubled = breaksFound(takeWith(8.4, -0.02), -0.5);
    const [found, ...others] = doubled.on(CLOCK).filter(({ doubledLikely = 0 }) => doubledLikely > 0.5);
    expect(Math.abs(found!.takeSec - 8.4)).toBeLessThan(0.002);
    expect(others).toEqual([]);
    // What was only looked through for doubled sound says nothing of other breaks.
    expect(doubled.isScanned(8.45)).toBe(false);
    expect(breaksFound(takeWith(8.4, -0.02), -2).on(CLOCK)).toEqual([]);
  });

  it('looks at the likeliest minute at first and a quarter of one at each later asking', () => {
    const samples = new Float32Array(200 * RATE_HZ);
    addNoise(samples, 0.01, new Random(6));
    const waves = new WaveBreaks(soundOf(samples, RATE_HZ));
    const odds = saying((sec) => 3 - 0.01 * sec, 200);
    const scanned = (): number => odds.filter(({ atSec }) => waves.isScanned(atSec)).length;
    for (const most of [60, 75, 90]) {
      waves.lookAbout(odds, CLOCK, 0, 200);
      expect(scanned()).toBe(most);
      expect(odds.findIndex(({ atSec }) => !waves.isScanned(atSec))).toBe(most);
    }
  });
});
