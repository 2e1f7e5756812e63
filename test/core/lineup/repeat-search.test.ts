import { describe, expect, it } from 'vitest';
import { doubledLikely, evidenceAnywhere } from '../../../core/lineup/repeat-evidence.ts';
import { repeatsIn } from '../../../core/lineup/repeat-search.ts';
import { type SoundBreak, SURE_EVIDENCE, soundBreaks } from '../../../core/lineup/sound-break.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { addNoise, addNotes, RATE_HZ } from './invented-session.ts';

const FIRST_SEC = 0.5;
const LAST_SEC = 5.4;
const CLOCK = { leadSec: 0, driftPpm: 0 };
/** Where cuts lie: in a held note, and in the rest after it. */
const HELD_SEC = 1.7;
const REST_SEC = 4.6;

/** A note of 3 s and a rest in noise 25 dB below it. */
function wholeTake(random: Random): Float32Array {
  const samples = new Float32Array(6 * RATE_HZ);
  addNoise(samples, 0.008, random);
  addNotes(samples, [{ atSec: 0.2, hz: 180 + 300 * random.uniform(), lengthSec: 3 }], 0.2, CLOCK);
  return samples;
}

/** Takes sound out at a place, or doubles what went before it. */
function withLost(samples: Float32Array, atSec: number, lostSec: number): Float32Array {
  const at = Math.round(atSec * RATE_HZ);
  const lost = Math.round(lostSec * RATE_HZ);
  const cut = new Float32Array(samples.length - lost);
  cut.set(samples.subarray(0, at));
  cut.set(samples.subarray(at + lost), at);
  return cut;
}

function breaksOf(samples: Float32Array): SoundBreak[] {
  return soundBreaks(soundOf(samples, RATE_HZ), FIRST_SEC, LAST_SEC);
}

describe('sound that is there twice', () => {
  it.each([
    ['a held note', HELD_SEC],
    ['a rest', REST_SEC],
  ])('is found within 1 ms, its length within 0.05 ms, where 10 to 40 ms are doubled in %s', (_, atSec) => {
    for (let seed = 1; seed <= 8; seed++) {
      const random = new Random(seed);
      const doubledSec = 0.01 + 0.03 * random.uniform();
      const cut = withLost(wholeTake(random), atSec, -doubledSec);
      const exactSec = Math.round(doubledSec * RATE_HZ) / RATE_HZ;
      const [first, ...others] = breaksOf(cut);
      expect(Math.abs(first!.atSec - atSec), `seed ${seed}`).toBeLessThan(0.001);
      expect(Math.abs(first!.doubledSec! - exactSec), `seed ${seed}`).toBeLessThan(0.00005);
      expect(first!.doubledLikely, `seed ${seed}`).toBeGreaterThan(0.5);
      expect(first!.evidence, `seed ${seed}`).toBeGreaterThan(8);
      expect(others, `seed ${seed}`).toEqual([]);
    }
  });

  it('is not what is lost from a held note, whose periods go on', () => {
    for (let seed = 11; seed <= 18; seed++) {
      const random = new Random(seed);
      for (const one of breaksOf(withLost(wholeTake(random), HELD_SEC, 0.01 + 0.03 * random.uniform()))) {
        expect(one.doubledLikely ?? 0, `seed ${seed}`).toBeLessThan(0.5);
      }
    }
  });

  it('is no jump of the clock where it takes the place of as much that was lost, as seen in five of six', () => {
    let seen = 0;
    for (let seed = 21; seed <= 26; seed++) {
      const samples = wholeTake(new Random(seed));
      const at = Math.round(HELD_SEC * RATE_HZ);
      samples.copyWithin(at, at - 0.02 * RATE_HZ, at);
      if (breaksOf(samples).every(({ doubledSec }) => doubledSec === undefined)) seen++;
    }
    // The wave may happen to go on where the rest does.
    expect(seen).toBeGreaterThanOrEqual(5);
  });

  it('is not found in a note and a rest that are whole, nor in a buzz whose every 20 ms are alike', () => {
    const random = new Random(31);
    const whole = wholeTake(random);
    const buzz = new Float32Array(6 * RATE_HZ);
    addNoise(buzz, 0.0001, random);
    for (let n = 0; n < buzz.length; n++) if (n % (0.02 * RATE_HZ) < 8) buzz[n]! += 0.05;
    for (const samples of [whole, buzz]) {
      const { anywhere } = repeatsIn(soundOf(samples, RATE_HZ), FIRST_SEC, LAST_SEC, []);
      for (const one of anywhere) expect(evidenceAnywhere(one)).toBeLessThan(SURE_EVIDENCE);
    }
  });

  it('is told as doubled the likelier the more alike it is in all of its bands', () => {
    const alike = { atSec: 1, lengthSec: 0.02, likeness: 0.8, beside: 0.1, leastAlike: 0.7 };
    expect(doubledLikely(alike)).toBeGreaterThan(0.99);
    expect(doubledLikely({ ...alike, leastAlike: 0.2 })).toBeLessThan(0.2);
    expect(doubledLikely({ ...alike, beside: 0.8 })).toBeLessThan(0.05);
  });
});
