import { writeFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Composed, compose, laidPassagesOf, laidTakeOf, loudnessOf } from '../../../app/desk/composed-voice.ts';
import { sessionLength } from '../../../app/desk/render-mix.ts';
import { controlOver, makeControlMemory } from '../../../app/work/control.ts';
import { openLaid } from '../../../app/work/laid-sound.ts';
import { stem } from '../../../app/work/tasks/stem.ts';
import type { Passage, Placement } from '../../../core/session/schema.ts';
import { sessionSecOf } from '../../../core/signal/clock.ts';
import { PlacedSound } from '../../../core/signal/placed-sound.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { makeFolder } from '../media/clip-kit.ts';

const RATE = 48_000;
const SEC = 6;
const SEED = 23;

type Ready = Parameters<typeof laidTakeOf>[0] & { readonly taken: { readonly lengthFrames: number } };

describe('takes whose clocks bend and jump', () => {
  const folder = makeFolder();
  const random = new Random(SEED);
  const takes = new Map(
    ['a', 'b'].map((id) => [id, Float32Array.from({ length: SEC * RATE }, () => 0.1 * random.gaussian())]),
  );
  const bends = {
    a: [
      { takeSec: 1.5, jumpSec: 0.02, driftPpm: 300 },
      { takeSec: 4.5, jumpSec: -0.05, driftPpm: 0 },
    ],
    b: [{ takeSec: 2, jumpSec: 0.5, driftPpm: -200 }],
  };
  beforeAll(() => {
    for (const [id, samples] of takes) writeFileSync(`${folder.path}/${id}.f32`, samples);
  });
  afterAll(folder.remove);

  function placementFor(id: 'a' | 'b'): Placement {
    return {
      offsetSec: id === 'a' ? 0.1 : -0.3,
      driftPpm: 40,
      bends: bends[id],
      uncertaintySec: 0.001,
      driftUncertaintyPpm: 1,
      confidence: 1,
      question: null,
      by: 'found',
      evidence: [],
    };
  }

  /** What of a take is looked at here. */
  function ready(id: 'a' | 'b'): Ready {
    const momentaryLufs = Array.from({ length: SEC * 10 }, (_, n) => -60 + n / 2);
    const all = {
      take: { id },
      taken: { key: id, soundPath: `${folder.path}/${id}.f32`, rateHz: RATE, lengthFrames: SEC * RATE },
      cleaned: undefined,
      placement: placementFor(id),
      loudness: { integratedLufs: -23, momentaryLufs },
    };
    return all as unknown as Ready;
  }

  function placed(id: 'a' | 'b'): Float32Array {
    const out = new Float32Array(8 * RATE);
    new PlacedSound(soundOf(takes.get(id)!, RATE), { ...placementFor(id), sessionRateHz: RATE }).read(0, out);
    return out;
  }

  const passages: Passage[] = [
    { takeId: 'a', fromSec: 0, toSec: 3 },
    { takeId: 'b', fromSec: 3, toSec: 8 },
  ];

  function composed(): Composed {
    const all = new Map((['a', 'b'] as const).map((id) => [id, ready(id)]));
    const match = { kind: 'rest', fadeSec: 0.04, stepDb: 0, tiltDb: 0, likeness: 0 } as const;
    return compose(passages, all as unknown as Parameters<typeof compose>[1], 'a', [match]);
  }

  it('are heard by their bends, any stretch of 100 as the stem of the whole has it', async () => {
    const laid = laidTakeOf(ready('a'));
    const whole = placed('a');
    const request = { sound: laid, lengthFrames: whole.length, target: `${folder.path}/stem.wav`, description: '' };
    await stem(request, controlOver(makeControlMemory(), true));
    const written = openLaid({ soundPath: request.target, rateHz: RATE, place: null });
    const live = openLaid(laid);
    for (let count = 0; count < 100; count++) {
      const from = Math.floor(random.uniform() * (whole.length - 5000));
      const [one, other] = [new Float32Array(1 + ((count * 47) % 5000)), new Float32Array(1 + ((count * 47) % 5000))];
      written.read(from, one);
      live.read(from, other);
      const isSame = one.every((value, n) => value === other[n] && value === whole[from + n]);
      expect(isSame, `seed ${SEED}, from ${from}`).toBe(true);
    }
    written.close();
    live.close();
  });

  it('are joined in passages: away from the join each sounds as it does alone, to the bit', () => {
    const sound = openLaid(laidPassagesOf(composed()));
    const out = new Float32Array(8 * RATE);
    sound.read(0, out);
    sound.close();
    const [a, b] = [placed('a'), placed('b')];
    const before = Math.floor(2.97 * RATE);
    const after = Math.ceil(3.03 * RATE);
    expect(out.subarray(0, before).every((value, n) => value === a[n])).toBe(true);
    expect(out.subarray(after).every((value, n) => value === b[after + n])).toBe(true);
  });

  it('have their loudness where it sounds: half a second that was lost moves the curve by half a second', () => {
    const { momentaryLufs } = loudnessOf(composed());
    for (const takeSec of [3.5, 4.5, 5.5]) {
      const at = Math.round(sessionSecOf(placementFor('b'), takeSec) * 10);
      // 0.05 s of rounding either way, at 5 LU a second.
      expect(Math.abs(momentaryLufs[at]! - (-60 + takeSec * 5))).toBeLessThan(0.6);
    }
  });

  it('end when their clock says, for the length of the mix', () => {
    const part = (id: 'a' | 'b'): Parameters<typeof sessionLength>[0][number] =>
      ready(id) as unknown as Parameters<typeof sessionLength>[0][number];
    const ends = (['a', 'b'] as const).map((id) => sessionSecOf(placementFor(id), SEC));
    expect(sessionLength([part('a'), part('b')])).toBe(Math.ceil(Math.max(...ends) * RATE));
    const sound = openLaid(laidTakeOf(ready('b')));
    expect(sound.lengthFrames).toBe(Math.ceil(ends[1]! * RATE - 1e-6));
    sound.close();
  });
});
