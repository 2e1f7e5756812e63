import { describe, expect, it } from 'vitest';
import { LEVEL_SEC, levelsOnSession, soloStretches } from '../../../core/picture/solo-stretches.ts';
import { Random } from '../../../core/signal/random.ts';

/** Levels of 60 s: near the voice's own loudness where it sounds, low elsewhere. */
function levels(sounds: (sec: number) => number, seed: number): number[] {
  const random = new Random(seed);
  return Array.from({ length: 600 }, (_, at) => sounds(at * LEVEL_SEC) + 1.5 * random.gaussian());
}

describe('solos found from loudness', () => {
  it('are where one voice sounds alone or leads by 9 LU, within 0.6 s, breaths of 1 s and shorter ones bridged', () => {
    const isBreath = (sec: number): boolean => sec > 25 && sec < 25.8;
    const solos = soloStretches([
      { voiceId: 'tenor', levelsLu: levels((sec) => (isBreath(sec) ? -40 : sec > 20 && sec < 32 ? 2 : -2), 1) },
      { voiceId: 'alto', levelsLu: levels((sec) => (sec > 20 && sec < 32 ? -14 : sec > 40 && sec < 46 ? 1 : -1), 2) },
      { voiceId: 'bass', levelsLu: levels((sec) => (sec > 20 && sec < 32 ? -60 : sec > 40 && sec < 46 ? -60 : 0), 3) },
    ]);
    const [only, ...more] = solos.get('tenor')!;
    expect(more).toEqual([]);
    expect(Math.abs(only!.fromSec - 20)).toBeLessThan(0.6);
    expect(Math.abs(only!.toSec - 32)).toBeLessThan(0.6);
    // The tenor sings on under the alto from 40 to 46 s: nobody leads.
    expect(solos.has('alto')).toBe(false);
    expect(solos.has('bass')).toBe(false);
  });

  it('are none of less than 3 s, and none in silence', () => {
    const silent = { voiceId: 'b', levelsLu: levels(() => Number.NEGATIVE_INFINITY, 5) };
    const short = { voiceId: 'a', levelsLu: levels((sec) => (sec > 10 && sec < 12 ? 0 : -70), 4) };
    expect(soloStretches([short, silent]).size).toBe(0);
  });

  it('lie on session time, drift and all', () => {
    const laid = levelsOnSession([-30, -20, -20], -20, (sec) => sec + 1.2);
    expect(laid.at(-1)).toBe(0);
    expect(laid).toHaveLength(13);
    expect(laid[0]).toBe(Number.NEGATIVE_INFINITY);
  });
});
