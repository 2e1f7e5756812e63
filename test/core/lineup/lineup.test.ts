import { describe, expect, it } from 'vitest';
import { placeTakes } from '../../../core/lineup/lineup.ts';
import { listenTo } from '../../../core/lineup/take-listener.ts';
import { sourceOf } from '../../../core/lineup/trace.ts';
import type { Placement } from '../../../core/lineup/witness.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { Random } from '../../../core/signal/random.ts';
import { type Sound, soundOf } from '../../../core/signal/sound.ts';
import {
  addGuide,
  type Guide,
  inventGuide,
  inventTake,
  RATE_HZ,
  type TakePlan,
  type Truth,
} from './invented-session.ts';

const PLAIN: Omit<TakePlan, 'seed' | 'truth'> = { noteSpreadSec: 0.02, clapsSec: [2.5], noise: 0.002, bleed: 0 };

function place(guide: Guide, plan: TakePlan): Placement {
  return placeTakes([{ id: 'take', sound: inventTake(guide, plan) }], guide.sound).get('take')!;
}

function placed(placement: Placement): Extract<Placement, { kind: 'placed' }> {
  if (placement.kind !== 'placed') throw new Error(`not placed: ${placement.reason}`);
  return placement;
}

/** Take time by the placement less take time by the truth, ms. */
function errorMs(placement: Placement, truth: Truth, sessionSec: number): number {
  const { offsetSec, driftPpm } = placed(placement);
  const found = (sessionSec - offsetSec) * (1 + driftPpm * 1e-6);
  return (found - truth.leadSec - sessionSec * (1 + truth.driftPpm * 1e-6)) * 1000;
}

describe('line-up against a guide', () => {
  const guide = inventGuide(11, 40);

  it('places a take of scattered notes and a clap 20 ms late within 15 ms at start, middle and end', () => {
    for (let seed = 1; seed <= 4; seed++) {
      const truth = { leadSec: 1.5 * seed + 0.123, driftPpm: 30 };
      const placement = place(guide, { ...PLAIN, seed, truth, clapsSec: [guide.cueSec + 0.02] });
      for (const at of [guide.musicFromSec, 0.5 * (guide.musicFromSec + guide.musicToSec), guide.musicToSec]) {
        expect(Math.abs(errorMs(placement, truth, at)), `seed ${seed} at ${at} s`).toBeLessThan(15);
      }
      expect(placement.confidence).toBeGreaterThan(0.9);
    }
  });

  it('assumes no drift where 40 s of notes cannot tell it', () => {
    for (let seed = 1; seed <= 3; seed++) {
      const placement = placed(place(guide, { ...PLAIN, seed, truth: { leadSec: 2, driftPpm: 40 } }));
      expect(placement.driftPpm, `seed ${seed}`).toBe(0);
      expect(placement.driftUncertaintyPpm).toBeGreaterThan(20);
    }
  });

  it('sets a clap half a beat late aside', () => {
    const truth = { leadSec: 2.2, driftPpm: 0 };
    const placement = place(guide, { ...PLAIN, seed: 3, truth, clapsSec: [guide.cueSec + 0.3] });
    expect(Math.abs(errorMs(placement, truth, 20))).toBeLessThan(15);
  });

  it('places a take without a clap by its notes alone', () => {
    const truth = { leadSec: 4.4, driftPpm: -20 };
    const placement = place(guide, { ...PLAIN, seed: 4, truth, clapsSec: [] });
    expect(Math.abs(errorMs(placement, truth, 25))).toBeLessThan(15);
    expect(placement.evidence.map((one) => one.kind)).toEqual(['onsets']);
  });

  it('asks about a take that was not played to this guide', () => {
    const other = inventGuide(77, 40);
    const stranger = inventTake(
      { ...other, notes: [] },
      { ...PLAIN, seed: 5, truth: { leadSec: 1, driftPpm: 0 }, clapsSec: [] },
    );
    const placement = placeTakes([{ id: 'take', sound: stranger }], guide.sound).get('take')!;
    expect(placement.kind).toBe('question');
    expect(placement.confidence).toBeLessThan(0.5);
  });

  it('asks about takes played, clap, leakage and all, to another piece of the same tempo, scale and layout', () => {
    const short = inventGuide(11, 20);
    // Seeds whose notes match this guide at some lag higher than chance, by up to 20 deviations.
    for (const seed of [2, 6, 7, 11, 15, 20, 22, 29]) {
      const other = inventGuide(100 + seed, 20);
      // Without its clicks: those of both guides lie at the same times and are no difference.
      const take = inventTake(
        { ...other, clicks: [] },
        { ...PLAIN, seed, truth: { leadSec: 1 + 0.37 * (seed % 9), driftPpm: 20 }, bleed: 0.01 },
      );
      const placement = placeTakes([{ id: 'take', sound: take }], short.sound).get('take')!;
      expect(placement.kind, `seed ${seed}`).toBe('question');
      expect(placement.confidence, `seed ${seed}`).toBeLessThan(0.5);
    }
  });

  it('finds the place by clap and beats where the guide is clicks alone', () => {
    const truth = { leadSec: 2.345, driftPpm: 0 };
    const samples = new Float32Array(guide.sound.lengthFrames);
    addGuide(samples, { ...guide, notes: [] }, 1, { leadSec: 0, driftPpm: 0 });
    const take = inventTake(guide, { ...PLAIN, seed: 8, truth, clapsSec: [guide.cueSec + 0.01] });
    const placement = placeTakes([{ id: 'take', sound: take }], soundOf(samples, RATE_HZ)).get('take')!;
    // The clap is 10 ms late and the rest is worth little.
    expect(Math.abs(errorMs(placement, truth, 20))).toBeLessThan(20);
  });

  it('takes an empty take and an empty guide for a question', () => {
    const nothing = soundOf(new Float32Array(0), RATE_HZ);
    expect(placeTakes([{ id: 'take', sound: nothing }], guide.sound).get('take')!.kind).toBe('question');
    expect(placeTakes([{ id: 'take', sound: nothing }], nothing).get('take')!.kind).toBe('question');
    expect(placeTakes([{ id: 'take', sound: nothing }]).get('take')!.kind).toBe('question');
  });

  it('gives plain data whose weights sum to 1', () => {
    const placement = place(guide, { ...PLAIN, seed: 6, truth: { leadSec: 1, driftPpm: 0 } });
    expect(JSON.parse(JSON.stringify(placement))).toEqual(placement);
    expect(placement.evidence.reduce((sum, one) => sum + one.weight, 0)).toBeCloseTo(1, 9);
  });

  it('stops when asked to', () => {
    const sound = inventTake(guide, { ...PLAIN, seed: 7, truth: { leadSec: 1, driftPpm: 0 } });
    expect(() => placeTakes([{ id: 'a', sound }], guide.sound, { cancel: { aborted: true } })).toThrow(CancelledError);
  });

  it('stops in the middle of a take, at the next reading of its sound', () => {
    const sound = inventTake(guide, { ...PLAIN, bleed: 0.01, seed: 7, truth: { leadSec: 1, driftPpm: 0 } });
    const trace = sourceOf(listenTo(sound));
    const cancel = { aborted: false };
    let readings = 0;
    const counted: Sound = {
      ...sound,
      read(fromFrame, target) {
        readings++;
        cancel.aborted = readings >= 20;
        sound.read(fromFrame, target);
      },
    };
    expect(() => placeTakes([{ id: 'a', sound: counted, trace }], guide.sound, { cancel })).toThrow(CancelledError);
    expect(readings).toBe(20);
  });
});

describe('line-up without a guide', () => {
  const guide = inventGuide(21, 20);

  it('lays the claps of takes upon each other within 1 ms when nothing else speaks', () => {
    const leads = [1.25, 3.5, 2.2];
    const takes = leads.map((leadSec, i) => {
      const quiet = { ...guide, notes: [] };
      const plan = { ...PLAIN, seed: 30 + i, truth: { leadSec, driftPpm: 0 } };
      return { id: `take ${i}`, sound: inventTake(quiet, plan) };
    });
    const placements = placeTakes(takes);
    const offsets = takes.map((take) => placed(placements.get(take.id)!).offsetSec);
    expect(Math.min(...offsets)).toBeCloseTo(0, 9);
    for (let i = 0; i < 3; i++) {
      expect(Math.abs(offsets[i]! - offsets[0]! + leads[i]! - leads[0]!)).toBeLessThan(0.001);
    }
  });

  it('takes the last clap before the music, not an earlier knock that sounds like one', () => {
    const leads = [5.25, 4.1, 6.2];
    const takes = leads.map((leadSec, i) => {
      // The knock is a clap in all but its place: another one in each take.
      const clapsSec = [guide.cueSec - 4 - 0.7 * i, guide.cueSec];
      return {
        id: `take ${i}`,
        sound: inventTake(guide, { ...PLAIN, seed: 50 + i, truth: { leadSec, driftPpm: 0 }, clapsSec }),
      };
    });
    const placements = placeTakes(takes);
    const offsets = takes.map((take) => placed(placements.get(take.id)!).offsetSec);
    for (let i = 1; i < 3; i++) {
      expect(Math.abs(offsets[i]! - offsets[0]! + leads[i]! - leads[0]!), `take ${i}`).toBeLessThan(0.02);
    }
  });

  it('asks about a take without a clap and offers where its notes agree', () => {
    const truths = [2, 3.7].map((leadSec) => ({ leadSec, driftPpm: 0 }));
    const takes = truths.map((truth, i) => ({
      id: `take ${i}`,
      sound: inventTake(guide, { ...PLAIN, seed: 40 + i, truth, clapsSec: i === 0 ? [guide.cueSec] : [] }),
    }));
    const placement = placeTakes(takes).get('take 1')!;
    expect(placement.kind).toBe('question');
    expect(placement.confidence).toBeLessThan(0.5);
    expect(placement.kind === 'question' && placement.best?.offsetSec).toBeCloseTo(-1.7, 1);
    expect(placement.kind === 'question' && placement.reason).toContain('clap');
  });

  it('places a voice that comes in 7 s late, as in a canon, by its lone clap', () => {
    const truths = [2, 3.7, 2.9].map((leadSec) => ({ leadSec, driftPpm: 0 }));
    const late = { ...guide, notes: guide.notes.filter((note) => note.atSec > guide.musicFromSec + 7) };
    const takes = truths.map((truth, i) => ({
      id: `take ${i}`,
      sound: inventTake(i === 1 ? late : guide, { ...PLAIN, seed: 60 + i, truth, clapsSec: [guide.cueSec] }),
    }));
    const placements = placeTakes(takes);
    const offsets = takes.map((take) => placed(placements.get(take.id)!).offsetSec);
    expect(Math.abs(offsets[1]! - offsets[0]! + 1.7)).toBeLessThan(0.02);
    expect(placements.get('take 1')!.confidence).toBeGreaterThan(0.9);
  });

  it('says that a clap is unsure where there is one, and that there is none only where there is none', () => {
    const claps = [[guide.cueSec], [guide.cueSec, guide.cueSec - 1.1], []];
    const quiet = { ...guide, notes: [] };
    const takes = claps.map((clapsSec, i) => {
      const plan = { ...PLAIN, seed: 70 + i, truth: { leadSec: 2 + i, driftPpm: 0 }, clapsSec };
      return { id: `take ${i}`, sound: inventTake(quiet, plan) };
    });
    const placements = placeTakes(takes);
    const reasons = takes.map((take) => {
      const placement = placements.get(take.id)!;
      return placement.kind === 'question' ? placement.reason : '';
    });
    expect(reasons[0]).not.toContain('no clap');
    expect(reasons[1]).not.toContain('no clap');
    expect(reasons[2]).toContain('no clap was found in this take');
  });

  it('asks about noise alone instead of guessing', () => {
    const samples = new Float32Array(5 * RATE_HZ);
    const random = new Random(9);
    for (let n = 0; n < samples.length; n++) samples[n] = 0.01 * random.gaussian();
    const placements = placeTakes([{ id: 'a', sound: soundOf(samples, RATE_HZ) }]);
    expect(placements.get('a')!.kind).toBe('question');
  });
});
