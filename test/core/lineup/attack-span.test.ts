import { describe, expect, it } from 'vitest';
import { attackSpan, beginningsOf } from '../../../core/lineup/attack-span.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 61;
const TICK_SEC = 0.002;

/** Levels of notes every 0.7 s over a quiet room: amplitude grows evenly for riseSec, and the note dies away after 0.4 s. */
function levelsOf(riseSec: number, count: number, overRoom: number): Float32Array {
  const random = new Random(SEED);
  const energy = new Float32Array(Math.round((0.7 * count + 1) / TICK_SEC));
  for (let tick = 0; tick < energy.length; tick++) {
    const sec = tick * TICK_SEC - 0.5;
    const since = sec < 0 || sec > 0.7 * count ? -1 : sec % 0.7;
    const shape = since < 0 ? 0 : Math.min(1, since / riseSec) * (since < 0.4 ? 1 : Math.exp((0.4 - since) / 0.03));
    energy[tick] = 1e-4 * (shape ** 2 * overRoom + 1) * (0.9 + 0.2 * random.uniform());
  }
  return energy;
}

const beginnings = (count: number): number[] => Array.from({ length: count }, (_, n) => 0.5 + 0.7 * n);

describe('how slowly notes become loud', () => {
  it.each([
    [0.002, 0.006],
    [0.05, 0.02],
    [0.2, 0.079],
  ])(`a rise of %f s takes %f s from 10 to 3 dB below its end, within 6 ms (seed ${SEED})`, (riseSec, expectedSec) => {
    // Amplitude grows from 0.316 to 0.708 of its end in 0.39 of the way; means of 10 ms widen what is shorter.
    const energy = levelsOf(riseSec, 20, 1000);
    const span = attackSpan({ energy, edge: energy, lengthSec: 20 }, beginnings(20))!;
    expect(Math.abs(span - expectedSec)).toBeLessThan(0.0061);
  });

  it('is not known of notes that rise by 6 dB only, nor of seven notes', () => {
    const faint = levelsOf(0.05, 20, 3);
    expect(attackSpan({ energy: faint, edge: faint, lengthSec: 20 }, beginnings(20))).toBeUndefined();
    const few = levelsOf(0.05, 20, 1000);
    expect(attackSpan({ energy: few, edge: few, lengthSec: 20 }, beginnings(7))).toBeUndefined();
  });

  it('begins where more rises than about it, and not at every small rise', () => {
    const by = [0, 0, 5, 1, 0, 0, 0.4, 0, 0, 2, 6, 2, 0, 0, 0, 5.5, 0, 0];
    const riseFrom = Uint32Array.from({ length: by.length + 1 }, (_, frame) => frame);
    const rises = { lengthSec: 1, frames: by.length, riseFrom, riseLine: new Uint8Array(by.length) };
    expect(beginningsOf({ ...rises, riseBy: Float32Array.from(by) })).toEqual([2, 10, 15]);
  });
});
