import { describe, expect, it } from 'vitest';
import { amountsWithin, PartialListener, Turns } from '../../../core/lineup/partial-steps.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { addNoise, addNotes, RATE_HZ } from './invented-session.ts';

/** Three partials of hz in noise, cut at 1 s by lostSec. */
function cutTone(hz: number, lostSec: number, seed: number): Turns[] {
  const whole = new Float32Array(3 * RATE_HZ);
  addNoise(whole, 0.001, new Random(seed));
  addNotes(whole, [{ atSec: 0.2, hz, lengthSec: 2.7 }], 0.2, { leadSec: 0, driftPpm: 0 });
  const at = RATE_HZ;
  const after = whole.subarray(at + Math.round(lostSec * RATE_HZ));
  const samples = new Float32Array(at + after.length);
  samples.set(whole.subarray(0, at));
  samples.set(after, at);
  return new PartialListener(soundOf(samples, RATE_HZ)).at(1).map((steps) => new Turns(steps));
}

function likeliest(turns: Turns, fromSec: number, toSec: number): number {
  let best = fromSec;
  for (let dSec = fromSec; dSec <= toSec; dSec += 0.0001) if (turns.say(dSec) > turns.say(best)) best = dSec;
  return best;
}

describe('partials on both sides of a moment', () => {
  it('tell within 0.3 ms how much was lost or doubled, where it is known to half a period', () => {
    for (const [seed, lostSec] of [0.02, 0.0113, 0.04, -0.02, -0.0071].entries()) {
      const [, middle, long] = cutTone(190, lostSec, seed);
      for (const turns of [middle!, long!]) {
        const best = likeliest(turns, lostSec - 0.0026, lostSec + 0.0026);
        expect(Math.abs(best - lostSec), `seed ${seed}`).toBeLessThan(0.0003);
        // 4 periods of 190 Hz are 21 ms, 8 are 42 ms: these cuts lie beside.
        expect(turns.say(lostSec) - turns.say(0), `seed ${seed}`).toBeGreaterThan(4);
      }
    }
  });

  it('say of many amounts at once what they say of each, to the last bit', () => {
    const amounts = amountsWithin(0.045, 0.0001);
    const says = new Float64Array(amounts.length).fill(7);
    for (const turns of cutTone(190, 0.0113, 1)) {
      turns.sayAll(amounts, says);
      expect(says).toEqual(Float64Array.from(amounts, (amount) => turns.say(amount)));
    }
  });

  it('speak against any cut beside whole periods in a tone that goes on', () => {
    for (const turns of cutTone(190, 0, 9)) {
      expect(turns.say(0)).toBeGreaterThan(3);
      expect(turns.say(0) - turns.say(0.0126)).toBeGreaterThan(4);
    }
  });

  it('say nothing in noise', () => {
    const samples = new Float32Array(3 * RATE_HZ);
    addNoise(samples, 0.01, new Random(4));
    for (const steps of new PartialListener(soundOf(samples, RATE_HZ)).at(1)) {
      const turns = new Turns(steps);
      expect(Math.max(turns.say(0), turns.say(0.02))).toBeLessThan(2);
    }
  });
});
