import { describe, expect, it } from 'vitest';
import { fitClock } from '../../../core/lineup/clock-fit.ts';
import type { ClockPoint } from '../../../core/lineup/clock-pieces.ts';
import { clockOfLines, linesOfClock } from '../../../core/lineup/line.ts';
import { type Clock, takeSecOf } from '../../../core/signal/clock.ts';
import { Random } from '../../../core/signal/random.ts';

const ERROR_SEC = 0.0001;

/** Points heard every 10 s of 15 min on a clock, one in twenty of them a lobe beside the peak. */
function heard(clock: Clock, seed: number, lobes = 0.05): ClockPoint[] {
  const random = new Random(seed);
  return Array.from({ length: 90 }, (_, n) => {
    const atSec = 10 * n + 5;
    const lobe = random.uniform() < lobes ? 0.0006 : 0;
    return { atSec, takeSec: takeSecOf(clock, atSec) + lobe + ERROR_SEC * random.gaussian(), errorSec: ERROR_SEC };
  });
}

describe('the clock through points heard along a take', () => {
  it('has no bend in 200 takes of 15 min whose clock runs evenly', () => {
    for (let seed = 1; seed <= 200; seed++) {
      const fit = fitClock(heard({ offsetSec: -3, driftPpm: 40 }, seed));
      expect(fit.bends, `seed ${seed}`).toEqual([]);
      expect(Math.abs(fit.lines[0]!.driftPpm - 40), `seed ${seed}`).toBeLessThan(1);
    }
  });

  it('finds a jump of 20 ms between the points beside it, to 0.2 ms and with the drift to 1 ppm', () => {
    for (let seed = 1; seed <= 20; seed++) {
      const clock = { offsetSec: -3, driftPpm: -25, bends: [{ takeSec: 333, jumpSec: 0.02, driftPpm: -25 }] };
      const { bends, lines } = fitClock(heard(clock, seed));
      expect(bends, `seed ${seed}`).toHaveLength(1);
      expect(bends[0]!.changePpm, `seed ${seed}`).toBe(0);
      expect(Math.abs(bends[0]!.stepSec + 0.02), `seed ${seed}`).toBeLessThan(0.0002);
      expect(bends[0]!.afterSec).toBeLessThan(330);
      expect(bends[0]!.beforeSec).toBeGreaterThan(330);
      expect(Math.abs(lines[0]!.driftPpm + 25), `seed ${seed}`).toBeLessThan(1);
    }
  });

  it('finds a change of 20 ppm within half a minute, without a jump', () => {
    for (let seed = 1; seed <= 20; seed++) {
      const clock = { offsetSec: -3, driftPpm: 10, bends: [{ takeSec: 400, jumpSec: 0, driftPpm: 30 }] };
      const { bends } = fitClock(heard(clock, seed, 0));
      expect(bends, `seed ${seed}`).toHaveLength(1);
      expect(bends[0]!.stepSec, `seed ${seed}`).toBe(0);
      expect(Math.abs(bends[0]!.changePpm - 20), `seed ${seed}`).toBeLessThan(1);
      expect(Math.abs(bends[0]!.afterSec - 397), `seed ${seed}`).toBeLessThan(30);
    }
  });

  it('is known worse away from its points, and to what it says there', () => {
    let inside = 0;
    for (let seed = 1; seed <= 100; seed++) {
      const fit = fitClock(heard({ offsetSec: -3, driftPpm: 40 }, seed, 0));
      const [line] = fit.lines;
      const off = line!.leadSec + 1200 * (1 + line!.driftPpm * 1e-6) - takeSecOf({ offsetSec: -3, driftPpm: 40 }, 1200);
      if (Math.abs(off) < 2 * fit.errorAt(1200)) inside++;
      expect(fit.errorAt(1200)).toBeGreaterThan(2 * fit.errorAt(450));
    }
    expect(inside).toBeGreaterThan(90);
  });

  it('goes from clock to lines and back', () => {
    const clock = {
      offsetSec: -2.5,
      driftPpm: 20,
      bends: [
        { takeSec: 100, jumpSec: 0.02, driftPpm: 20 },
        { takeSec: 200, jumpSec: 0, driftPpm: -15 },
      ],
    };
    const again = clockOfLines(linesOfClock(clock), [100, 200]);
    expect(again.offsetSec).toBeCloseTo(-2.5, 12);
    expect(again.bends![0]!.jumpSec).toBeCloseTo(0.02, 9);
    expect(again.bends![1]).toEqual({ takeSec: 200, jumpSec: 0, driftPpm: -15 });
  });
});
