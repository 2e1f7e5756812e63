import { describe, expect, it } from 'vitest';
import { alongTake } from '../../../core/lineup/along-take.ts';
import { placeTakes } from '../../../core/lineup/lineup.ts';
import { weigh } from '../../../core/lineup/weigh.ts';
import { MOST_TRAIL_POINTS, type Placement, type Testimony } from '../../../core/lineup/witness.ts';
import { type Clock, sessionSecOf, takeSecOf } from '../../../core/signal/clock.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { type BentTakePlan, inventBentTake } from './invented-clock.ts';
import { type Guide, inventGuide } from './invented-session.ts';

type Placed = Extract<Placement, { kind: 'placed' }>;

const PLAYER = { noteSpreadSec: 0.015, wanderSec: 0.008, noise: 0.002 };

function place(guide: Guide, plan: Partial<BentTakePlan> & Pick<BentTakePlan, 'seed' | 'clock'>): Placed {
  const take = inventBentTake(guide, { ...PLAYER, clapsSec: [guide.cueSec], bleed: 0, ...plan });
  const placement = placeTakes([{ id: 'take', sound: take }], guide.sound).get('take')!;
  if (placement.kind !== 'placed') throw new Error(`not placed: ${placement.reason}`);
  return placement;
}

/** Farthest that any moment of the music lies from its place, ms, but for half a second about the bends. */
function worstMs(placement: Clock, truth: Clock, guide: Guide): number {
  let most = 0;
  for (let at = guide.musicFromSec; at < guide.musicToSec; at += 0.5) {
    const takeSec = takeSecOf(truth, at);
    if (truth.bends?.some((bend) => Math.abs(bend.takeSec - takeSec) < 0.5)) continue;
    most = Math.max(most, 1000 * Math.abs(sessionSecOf(placement, takeSec) - at));
  }
  return most;
}

/** Session time in the middle of a held note, s: a cut in a rest breaks no wave. */
function heldAt(guide: Guide, nearSec: number): number {
  const note = guide.notes.find((one) => one.atSec > nearSec && one.lengthSec > 0.8)!;
  return note.atSec + 0.5 * note.lengthSec;
}

describe('a take whose guide leaks from the headphones', () => {
  const guide = inventGuide(5, 80);

  it('has a jump of 20 ms in its middle found within 0.5 s of its place and mended to 0.5 ms', () => {
    for (const [seed, jumpSec, takeSec] of [
      [1, 0.02, 45.2],
      [2, -0.02, 31.7],
      [3, 0.02, 58.1],
    ] as const) {
      const clock = { offsetSec: -2.4, driftPpm: 20, bends: [{ takeSec, jumpSec, driftPpm: 20 }] };
      const placement = place(guide, { seed, clock, bleed: 0.004 });
      expect(placement.bends, `seed ${seed}`).toHaveLength(1);
      expect(Math.abs(placement.bends![0]!.takeSec - takeSec), `seed ${seed}`).toBeLessThan(0.5);
      expect(Math.abs(placement.bends![0]!.jumpSec - jumpSec), `seed ${seed}`).toBeLessThan(0.0005);
      expect(worstMs(placement, clock, guide), `seed ${seed}`).toBeLessThan(0.5);
      expect(placement.warning, `seed ${seed}`).toBeUndefined();
    }
  });

  it('has two jumps found and mended to 0.5 ms', () => {
    const bends = [
      { takeSec: 30.3, jumpSec: -0.01, driftPpm: -30 },
      { takeSec: 61.9, jumpSec: 0.03, driftPpm: -30 },
    ];
    const clock = { offsetSec: -2.4, driftPpm: -30, bends };
    const placement = place(guide, { seed: 4, clock, bleed: 0.006 });
    expect(placement.bends).toHaveLength(2);
    expect(worstMs(placement, clock, guide)).toBeLessThan(0.5);
  });

  it('has no bend where its clock has none, a trail of plain data, and is known to 1 ms all along', () => {
    for (let seed = 1; seed <= 4; seed++) {
      const clock = { offsetSec: -2 - 0.3 * seed, driftPpm: 25 * (seed - 2) };
      const placement = place(guide, { seed, clock, bleed: 0.004 });
      expect(placement.bends, `seed ${seed}`).toBeUndefined();
      expect(worstMs(placement, clock, guide), `seed ${seed}`).toBeLessThan(0.5);
      expect(placement.residualSec, `seed ${seed}`).toBeLessThan(0.001);
      expect(placement.trail!.length).toBeLessThanOrEqual(MOST_TRAIL_POINTS);
      expect(new Set(placement.trail!.map((one) => one.kind))).toEqual(new Set(['bleed', 'onsets', 'clap']));
      for (const { atSec, takeSec } of placement.trail!) {
        expect(Math.abs(atSec * 1e6 - Math.round(atSec * 1e6))).toBeLessThan(1e-3);
        expect(Math.abs(takeSec * 1e6 - Math.round(takeSec * 1e6))).toBeLessThan(1e-3);
      }
      expect(JSON.parse(JSON.stringify(placement))).toEqual(placement);
    }
  });
});

describe('a take of 10 min', () => {
  const guide = inventGuide(5, 600);

  it('has its drift found within 3 ppm from leakage, also where it changes by 30 ppm on the way', () => {
    const even = { offsetSec: -3, driftPpm: 47 };
    expect(Math.abs(place(guide, { seed: 1, clock: even, bleed: 0.004 }).driftPpm - 47)).toBeLessThan(3);
    const clock = { offsetSec: -3, driftPpm: -12, bends: [{ takeSec: 280, jumpSec: 0, driftPpm: 18 }] };
    const placement = place(guide, { seed: 2, clock, bleed: 0.006 });
    expect(placement.bends).toHaveLength(1);
    expect(Math.abs(placement.driftPpm + 12)).toBeLessThan(3);
    expect(Math.abs(placement.bends![0]!.driftPpm - 18)).toBeLessThan(3);
    expect(worstMs(placement, clock, guide)).toBeLessThan(1);
  });

  it('of restless notes alone is placed no worse than without drift, and says how far it may lie off', () => {
    const clock = { offsetSec: -3, driftPpm: 30 };
    const placement = place(guide, { seed: 2, clock, noteSpreadSec: 0.025, wanderSec: 0.012 });
    const middle = placement.evidence.reduce((sum, one) => sum + one.weight * one.atSec, 0);
    const flat = { offsetSec: middle - takeSecOf(placement, middle), driftPpm: 0 };
    expect(worstMs(placement, clock, guide)).toBeLessThanOrEqual(worstMs(flat, clock, guide));
    expect(Math.abs(placement.driftPpm - 30)).toBeLessThan(2 * placement.driftUncertaintyPpm);
    expect(worstMs(placement, clock, guide)).toBeLessThan(2000 * placement.residualSec!);
    expect(placement.bends).toBeUndefined();
    if (placement.residualSec! > 0.01) expect(placement.warning).toContain('is known to about');
  });
});

describe('a take without leakage', () => {
  const guide = inventGuide(5, 150);

  it('of a steady player has a jump of 40 ms found where its sound breaks, and is mended to 15 ms', () => {
    const takeSec = heldAt(guide, 75) + 2.4;
    const clock = { offsetSec: -2.4, driftPpm: 0, bends: [{ takeSec, jumpSec: 0.04, driftPpm: 0 }] };
    const placement = place(guide, { seed: 3, clock, noteSpreadSec: 0.008, wanderSec: 0.004 });
    expect(placement.bends).toHaveLength(1);
    expect(Math.abs(placement.bends![0]!.takeSec - takeSec)).toBeLessThan(0.002);
    expect(worstMs(placement, clock, guide)).toBeLessThan(15);
  });

  it('has no bend where its clock has none', () => {
    for (let seed = 1; seed <= 4; seed++) {
      const placement = place(guide, { seed, clock: { offsetSec: -2, driftPpm: 20 } });
      expect(placement.bends, `seed ${seed}`).toBeUndefined();
    }
  });
});

describe('takes without a guide', () => {
  const guide = inventGuide(5, 200);
  const pitches = [1, 1.5, 0.5];

  it('have a jump of 30 ms laid to the take that made it, also to the one that serves as mark', () => {
    const jumpAt = heldAt(guide, 90);
    for (const who of [0, 2]) {
      const clocks = pitches.map((_, i): Clock => {
        const bends = i === who ? [{ takeSec: jumpAt + 2 + i, jumpSec: 0.03, driftPpm: 0 }] : [];
        return { offsetSec: -2 - i, driftPpm: 0, bends };
      });
      const takes = clocks.map((clock, i) => {
        const plan = { ...PLAYER, noteSpreadSec: 0.008, wanderSec: 0.004, clapsSec: [guide.cueSec], bleed: 0 };
        return { id: `${i}`, sound: inventBentTake(guide, { ...plan, seed: i + 1, clock, pitch: pitches[i]! }) };
      });
      const placements = placeTakes(takes);
      clocks.forEach((_, i) => {
        const placement = placements.get(`${i}`) as Placed;
        expect(placement.bends?.length ?? 0, `jump in ${who}, take ${i}`).toBe(i === who ? 1 : 0);
        if (i !== who) return;
        expect(Math.abs(placement.bends![0]!.takeSec - jumpAt - 2 - i)).toBeLessThan(0.5);
        expect(Math.abs(placement.bends![0]!.jumpSec - 0.03)).toBeLessThan(0.012);
      });
    }
  });
});

describe('a clock that bends by what was taken for leakage', () => {
  const said = { takeSec: 33, note: '', atSec: 30 };
  const bends = [{ takeSec: 43, jumpSec: 0.02, driftPpm: 0 }];
  const clock = { offsetSec: -3, driftPpm: 0, bends };
  const line = { leadSec: 3, driftPpm: 0 };

  function along(trust: number): Placement {
    const onsets: Testimony = { ...said, kind: 'onsets', uncertaintySec: 0.007, trust: 0.9 };
    const bleed: Testimony = { ...said, kind: 'bleed', uncertaintySec: 0.0003, trust };
    const placement = weigh([onsets, bleed], () => '');
    const trail = [20, 30, 50].map((atSec) => ({
      ...{ kind: 'bleed' as const, atSec, takeSec: takeSecOf(clock, atSec), uncertaintySec: 0.0003, accepted: true },
    }));
    const fit = {
      lines: [line, line],
      bends: [],
      accepted: [true, true, true],
      errorAt: () => 0.0002,
      driftErrorPpm: 1,
    };
    const followed = { fit, clock, bendsWithinSec: [0.001], isBroken: true, trail };
    return alongTake(placement, {
      sound: soundOf(new Float32Array(60 * 8000), 8000),
      ...{ claps: [], cues: [], music: undefined, byNotes: { jumps: [], doubts: [] } },
      bleed: { testimony: bleed, followed, doubts: [] },
    });
  }

  it('is known as well as leakage tells it where that is sure, and no better than its place where it may be the own notes', () => {
    const [sure, unsure] = [0.95, 0.6].map(along) as [Placed, Placed];
    expect(sure.bends).toEqual(bends);
    expect(unsure.bends).toEqual(bends);
    expect(sure.uncertaintySec).toBeLessThan(0.0005);
    expect(sure.residualSec).toBeLessThan(0.001);
    expect(unsure.uncertaintySec).toBeCloseTo(0.007, 3);
    expect(unsure.residualSec).toBeGreaterThan(0.0069);
  });
});
