import { describe, expect, it } from 'vitest';
import { kernelBeginPlaces } from '../../../core/pitch/begin-places.ts';
import { possibleBegins } from '../../../core/pitch/begins.ts';
import { heardNotes } from '../../../core/pitch/heard-notes.ts';
import type { PitchTrack } from '../../../core/pitch/pitch-tracker.ts';
import { Random } from '../../../core/signal/random.ts';
import { inRoom, noisy, played, RATE_HZ, row, tone, tracked } from './pitch-kit.ts';

/** Steps and scores of the places, by the kernel and in plain TypeScript. */
function both(track: PitchTrack): readonly [readonly number[], readonly number[]] {
  const flat = (places: readonly { sec: number; score: number }[]) => places.flatMap(({ sec, score }) => [sec, score]);
  return [flat(kernelBeginPlaces(track)!), flat(possibleBegins(track))];
}

function noise(lengthSec: number, seed: number): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length: lengthSec * RATE_HZ }, () => 0.1 * random.gaussian());
}

/** A track as no sound gives it: pitches that leap from frame to frame up to its very ends. */
function leaping(): PitchTrack {
  const track = tracked(noise(3, 51));
  const random = new Random(52);
  const hz = track.hz.map((_, n) => (random.uniform() < 0.1 ? Number.NaN : 200 * 2 ** (Math.floor(n / 7) % 3)));
  return { ...track, hz };
}

describe('places at which a note may begin, by the kernel', () => {
  it.each<readonly [string, () => PitchTrack]>([
    [
      'bowed',
      () =>
        tracked(
          noisy(
            inRoom(
              played(
                row([55, 57, 57, 62], 0.4, 0, () => 5),
                'bowed',
              ),
              0.4,
              5,
              1,
            ),
            30,
            2,
          ),
        ),
    ],
    [
      'plucked, low',
      () =>
        tracked(
          noisy(
            played(
              row([33, 33, 40, 28], 0.3, 0.05, () => 0),
              'plucked',
            ),
            20,
            3,
          ),
        ),
    ],
    [
      'a voice with rests',
      () =>
        tracked(
          noisy(
            played(
              row([60, 64, 67], 0.5, 0.4, () => -20),
              'voice',
            ),
            35,
            4,
          ),
        ),
    ],
    [
      'a slide in vibrato',
      () => tracked(tone((sec) => 300 * 2 ** (0.3 * sec + 0.02 * Math.sin(35 * sec)), 3, [0.3, 0.2])),
    ],
    [
      'a tone cut out of digital silence',
      () => tracked(Float32Array.from({ length: 3 * RATE_HZ }, (_, n) => (n % RATE_HZ < 9000 ? Math.sin(0.1 * n) : 0))),
    ],
    ['noise', () => tracked(noise(2, 5))],
    ['silence', () => tracked(new Float32Array(2 * RATE_HZ))],
    ['leaps up to the ends', leaping],
  ])('are those of plain TypeScript to the last bit, and as likely: %s', (_name, make) => {
    const [kernel, script] = both(make());
    expect(kernel).toEqual(script);
  });

  it('are many in what is compared here', () => {
    const track = tracked(
      noisy(
        played(
          row([55, 57, 57, 62], 0.4, 0, () => 5),
          'bowed',
        ),
        30,
        2,
      ),
    );
    expect(possibleBegins(track).length).toBeGreaterThanOrEqual(4);
    expect(possibleBegins(leaping()).length).toBeGreaterThan(20);
  });

  it('are left to plain TypeScript where a track is shorter than a note', () => {
    const track = tracked(new Float32Array(100));
    expect(kernelBeginPlaces({ ...track, stepPowers: new Float64Array(10) })).toBeUndefined();
    expect(heardNotes({ ...track, hz: new Float64Array(0), hollow: new Float64Array(0) })).toEqual([]);
  });
});
