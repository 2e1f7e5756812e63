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
    expect(pictureClock(clock, { endSec: 600 })).toBe(clock);
    // Cut out of both: the streams end together.
    expect(pictureClock(clock, { endSec: 600, soundEndSec: 600.01 })).toBe(clock);
  });

  it('runs 100 ppm apart with stamps that do: 60 ms after 10 min', () => {
    const made = pictureClock({ offsetSec: 2, driftPpm: -40, bends }, { endSec: 600, soundPpm: 100 });
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

  it('jumps of 20 ms are too small to be told by the ends of streams', () => {
    const small = { offsetSec: 0, driftPpm: 0, bends: [{ takeSec: 10, jumpSec: 0.02, driftPpm: 0 }] };
    expect(jumpsInSoundAlone(small, { endSec: 60.02, soundEndSec: 60 })).toBe(false);
  });
});
