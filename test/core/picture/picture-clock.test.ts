import { describe, expect, it } from 'vitest';
import { jumpsInSoundAlone, pictureClock } from '../../../core/picture/picture-clock.ts';
import { sessionSecOf } from '../../../core/signal/clock.ts';

const bends = [
  { takeSec: 100, jumpSec: 0.3, driftPpm: 20 },
  { takeSec: 400, jumpSec: 0, driftPpm: -60 },
  { takeSec: 500, jumpSec: -0.1, driftPpm: -60 },
];
const clock = { offsetSec: 2, driftPpm: 20, bends };

describe('the clock of a picture', () => {
  it('is that of the sound where nothing tells otherwise', () => {
    expect(pictureClock(clock, null)).toBe(clock);
    const even = { ...clock, bends: [{ takeSec: 300, jumpSec: 0, driftPpm: -60 }] };
    expect(pictureClock(even, { endSec: 600, soundEndSec: 599.9 })).toBe(even);
    // Cut out of both: the streams end together.
    expect(pictureClock(clock, { endSec: 600, soundEndSec: 599.9 })).toBe(clock);
  });

  it('runs 100 ppm apart with stamps that do: 60 ms after 10 min', () => {
    const made = pictureClock({ offsetSec: 2, driftPpm: -40, bends }, { endSec: 600, soundEndSec: 600, soundPpm: 100 });
    for (const takeSec of [0, 99, 350, 450, 599]) {
      const wanted = sessionSecOf({ offsetSec: 2, driftPpm: -40, bends }, takeSec);
      expect(sessionSecOf(made, takeSec * 1.0001)).toBeCloseTo(wanted, 7);
    }
  });

  it('runs on where sound alone was lost and doubled, as the ends of the streams tell', () => {
    const picture = { endSec: 600.2, soundEndSec: 600 };
    expect(jumpsInSoundAlone(clock, picture)).toBe(true);
    const made = pictureClock(clock, picture);
    // Before the loss both times are one; then the picture's is 0.3 s ahead, and 0.2 s after the doubling.
    for (const [takeSec, ahead] of [
      [50, 0],
      [200, 0.3],
      [450, 0.3],
      [550, 0.2],
    ] as const) {
      expect(sessionSecOf(made, takeSec + ahead)).toBeCloseTo(sessionSecOf(clock, takeSec), 4);
    }
  });

  it('takes jumps of 20 ms for dropped buffers, which the ends of streams cannot tell, and 5 s that were cut out for what they are', () => {
    const jump = (jumpSec: number) => ({ offsetSec: 0, driftPpm: 0, bends: [{ takeSec: 10, jumpSec, driftPpm: 0 }] });
    for (const [jumpSec, soundEndSec, isAlone] of [
      [0.02, 60, true],
      [0.02, 59.9, true],
      [-0.04, 60.02, true],
      [0.02, undefined, true],
      [5, 60, false],
      [5, 55.05, true],
      [5, undefined, false],
      [0.02, 57, true],
    ] as const) {
      const picture = { endSec: 60, ...(soundEndSec === undefined ? {} : { soundEndSec }) };
      expect(jumpsInSoundAlone(jump(jumpSec), picture), `${jumpSec} ${soundEndSec}`).toBe(isAlone);
    }
  });
});
