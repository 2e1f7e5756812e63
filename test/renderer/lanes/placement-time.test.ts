import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { placementSchema } from '../../../core/session/placement-schema.ts';
import { sessionSecOf, takeSecOf } from '../../../core/signal/clock.ts';
import { movedByHand } from '../../../renderer/lanes/placement-time.ts';

describe('where a take lies', () => {
  it('maps take time to session time by offset and drift, and back to 1 ns', () => {
    expect(sessionSecOf({ offsetSec: 0.5, driftPpm: 100 }, 600)).toBeCloseTo(0.5 + 600 / 1.0001, 9);
    fc.assert(
      fc.property(
        fc.double({ min: -100, max: 100, noNaN: true }),
        fc.double({ min: -2000, max: 2000, noNaN: true }),
        fc.double({ min: 0, max: 3600, noNaN: true }),
        (offsetSec, driftPpm, sec) =>
          Math.abs(takeSecOf({ offsetSec, driftPpm }, sessionSecOf({ offsetSec, driftPpm }, sec)) - sec) < 1e-9,
      ),
      { seed: 21 },
    );
  });

  it('moves by hand one sample later and keeps what was found, with one witness of the hand', () => {
    const witness = {
      kind: 'clap' as const,
      atSec: 5,
      takeSec: 5,
      offsetSec: 0,
      uncertaintySec: 0.01,
      weight: 1,
      accepted: true,
      note: 'The clap.',
    };
    const found = {
      offsetSec: 0.25,
      driftPpm: 30,
      uncertaintySec: 0.02,
      driftUncertaintyPpm: 5,
      confidence: 0.4,
      question: 'Which?',
      by: 'found' as const,
      evidence: [witness],
    };
    const twice = movedByHand(movedByHand(found, 1, 5), 1, 6);
    expect(twice.offsetSec).toBeCloseTo(0.25 + 2 / 48000, 12);
    expect(twice.by).toBe('user');
    expect(twice.question).toBeNull();
    expect(twice.evidence.map((one) => [one.kind, one.weight])).toEqual([
      ['clap', 1],
      ['user', 0],
    ]);
    const hand = twice.evidence[1]!;
    expect(sessionSecOf(twice, hand.takeSec)).toBeCloseTo(hand.atSec, 9);
    expect(placementSchema.safeParse(twice).success).toBe(true);
  });

  it('places a take by hand that had no placement', () => {
    expect(placementSchema.safeParse(movedByHand(null, 480, 3)).data?.offsetSec).toBeCloseTo(0.01, 12);
  });
});
