import { describe, expect, it } from 'vitest';
import { stepsInNotes } from '../../../core/lineup/follow-notes.ts';
import type { Lateness } from '../../../core/lineup/step-test.ts';
import { WaveBreaks } from '../../../core/lineup/wave-breaks.ts';
import { Random } from '../../../core/signal/random.ts';
import { type Sound, soundOf } from '../../../core/signal/sound.ts';

const RATE_HZ = 16000;
const LENGTH_SEC = 120;
const JUMP_SEC = 61.3;

/** A note every 0.8 s, noise between them. */
function notes(): Sound {
  const random = new Random(3);
  const samples = new Float32Array(LENGTH_SEC * RATE_HZ);
  for (let n = 0; n < samples.length; n++) {
    const sec = (n / RATE_HZ) % 0.8;
    const loud = sec < 0.6 ? Math.min(1, sec / 0.02, (0.6 - sec) / 0.02) : 0;
    samples[n] = 0.2 * loud * Math.sin((2 * Math.PI * 440 * n) / RATE_HZ) + 0.0003 * random.gaussian();
  }
  return soundOf(samples, RATE_HZ);
}

/** A note every 0.8 s by a player who scatters, late by stepSec from JUMP_SEC on. */
function lateness(seed: number, stepSec: number, scatterSec = 0.006): Lateness[] {
  const random = new Random(seed);
  return Array.from({ length: 150 }, (_, n) => {
    const atSec = 0.8 * n;
    const laterSec = scatterSec * random.gaussian() + (atSec > JUMP_SEC ? stepSec : 0);
    return { atSec, laterSec, weight: 1, lengthSec: 1 };
  });
}

describe('jumps that notes alone tell, one by one', () => {
  const sound = notes();
  const waves = new WaveBreaks(sound);
  const even = { leadSec: 0, driftPpm: 0 };

  it('are found within 2 s of their place, and within what they say, in a rest, and to a quarter of their size', () => {
    for (const [seed, stepSec] of [
      [1, -0.02],
      [2, 0.02],
      [3, -0.03],
    ] as const) {
      const { jumps } = stepsInNotes(lateness(seed, stepSec), even, waves, { alone: sound });
      expect(jumps, `seed ${seed}`).toHaveLength(1);
      const jump = jumps[0]!;
      expect(Math.abs(jump.takeSec - JUMP_SEC)).toBeLessThan(Math.min(2, jump.withinSec + 0.2));
      expect(jump.takeSec % 0.8).toBeGreaterThan(0.59);
      expect(jump.withinSec).toBeGreaterThan(0.3);
      expect(Math.abs(jump.stepSec - stepSec)).toBeLessThan(0.25 * Math.abs(stepSec));
      expect(jump.isBreak).toBe(false);
    }
  });

  it('are none where nobody says that the other sound is steady', () => {
    expect(stepsInNotes(lateness(1, -0.02), even, waves).jumps).toEqual([]);
  });

  it('are none where notes have nothing to do with the guide, and lie off by a tenth of a second', () => {
    for (let seed = 1; seed <= 3; seed++) {
      const random = new Random(seed);
      const along = lateness(seed, 0).map((one) => ({ ...one, laterSec: 0.2 * (random.uniform() - 0.5) }));
      expect(stepsInNotes(along, even, waves, { alone: sound }).jumps, `seed ${seed}`).toEqual([]);
    }
  });

  it('are none of 6 players who only scatter, nor of 6 who wander', () => {
    for (let seed = 1; seed <= 6; seed++) {
      const scattered = lateness(seed, 0, 0.012);
      const wandering = wander(seed, scattered);
      for (const along of [scattered, wandering]) {
        expect(stepsInNotes(along, even, waves, { alone: sound }).jumps, `seed ${seed}`).toEqual([]);
      }
    }
  });
});

/** The same of a player who rushes and drags by 10 ms over half a minute. */
function wander(seed: number, along: readonly Lateness[]): Lateness[] {
  const random = new Random(1000 + seed);
  const keep = Math.exp(-0.8 / 30);
  let slow = random.gaussian();
  return along.map((one) => {
    slow = keep * slow + Math.sqrt(1 - keep * keep) * random.gaussian();
    return { ...one, laterSec: one.laterSec + 0.01 * slow };
  });
}
