import { describe, expect, it } from 'vitest';
import { apply, type Edit } from '../../../../core/session/edit.ts';
import { editSchema } from '../../../../core/session/edit-schema.ts';
import type { Take } from '../../../../core/session/schema.ts';
import { laidByHand, movedByHand } from '../../../../renderer/lanes/placement-time.ts';
import { clapMoments, columnsOf, runAround } from '../../../../renderer/steps/line-up/clap-window.ts';
import { layEvidence } from '../../../../renderer/steps/line-up/evidence-layout.ts';
import { acceptEdit, backEdit } from '../../../../renderer/steps/line-up/placement-edits.ts';
import {
  apartSec,
  apartWords,
  confidenceWords,
  driftWords,
  exactWords,
  foundOffsetSec,
  unheardWords,
} from '../../../../renderer/steps/line-up/placement-words.ts';
import { benchSession, foundPlacement } from '../bench-session.ts';

const session = benchSession(1);
const take = session.takes[0]!;
const placed = (change: Partial<NonNullable<Take['placement']>>): Take => ({
  ...take,
  placement: { ...foundPlacement, ...change },
});

describe('placements in words', () => {
  it('says how exactly a place is known, and when it is not', () => {
    expect(exactWords(foundPlacement)).toBe('± 1.0 ms');
    expect(exactWords({ ...foundPlacement, uncertaintySec: 10 })).toBe('not known');
    expect(exactWords({ ...foundPlacement, uncertaintySec: 0 })).toBe('the mark');
  });

  it('says what the clock does and how sure the place is', () => {
    expect(driftWords(-24.4)).toBe('24 ppm slow');
    expect(driftWords(0.3)).toBe('in time');
    expect(confidenceWords(0.4)).toBe('doubtful');
  });

  it('says why a take has no curve: by its clap alone, laid by hand, or nothing', () => {
    const clap = { ...foundPlacement.evidence[0]!, kind: 'clap' as const, accepted: true };
    expect(unheardWords({ by: 'found', evidence: [clap] })).toMatchObject({
      words: expect.stringMatching(/^Only its clap tells/),
      mayHelp: false,
    });
    expect(unheardWords({ by: 'user', evidence: [clap] }).words).toContain('takes back what you laid by hand');
    expect(unheardWords({ by: 'found', evidence: [] })).toMatchObject({ mayHelp: false });
    const mutual = { ...clap, kind: 'mutual' as const };
    expect(unheardWords({ by: 'found', evidence: [mutual] }).words).toMatch(/^Its notes as a whole/);
    expect(unheardWords(foundPlacement)).toMatchObject({
      words: expect.stringContaining('before such curves were kept'),
      mayHelp: true,
    });
  });

  it('says of a witness how far it would have the take elsewhere', () => {
    expect(apartSec(foundPlacement.evidence[0]!, foundPlacement)).toBeCloseTo(0.01, 9);
    expect(apartWords(0.01)).toBe('10 ms later');
    expect(apartWords(-0.0025)).toBe('2.5 ms earlier');
    expect(apartWords(0.00002)).toBe('agrees');
  });
});

describe('moving a take by hand', () => {
  it('moves it by 1 ms and keeps its evidence beside that of the hand, as an edit that the desk accepts', () => {
    const edit: Edit = { kind: 'setPlacement', takeId: take.id, placement: movedByHand(take.placement, 48, 5) };
    expect(editSchema.parse(edit)).toEqual(edit);
    const after = apply(session, edit).takes[0]!.placement!;
    expect(after.offsetSec).toBeCloseTo(1.001, 9);
    expect(after.by).toBe('user');
    expect(after.evidence.slice(0, -1)).toEqual(foundPlacement.evidence);
    expect(after.evidence.at(-1)!.kind).toBe('user');
  });

  it('goes one frame on with each move by one frame, 100 times', () => {
    let now = take.placement;
    for (let n = 0; n < 100; n++) now = movedByHand(now, 1, 5);
    expect(now!.offsetSec).toBeCloseTo(1 + 100 / 48000, 9);
  });

  it('makes a place of one that was not known, good for 20 ms', () => {
    const after = laidByHand(placed({ uncertaintySec: 10, question: 'Where?' }).placement, 96000, 5);
    expect(after).toMatchObject({ offsetSec: 2, uncertaintySec: 0.02, question: null });
  });

  it('puts the witness of the hand away when it goes back to what was found', () => {
    const moved = { ...take, placement: movedByHand(take.placement, 480, 5) };
    expect(apply(session, backEdit(moved)!).takes[0]!.placement!.evidence).toEqual(foundPlacement.evidence);
  });

  it('accepts a doubtful place as it is, and only where something was asked', () => {
    expect(acceptEdit(take)).toBeUndefined();
    const after = apply(session, acceptEdit(placed({ question: 'Right?' }))!).takes[0]!.placement!;
    expect(after).toMatchObject({ offsetSec: 1, question: null, by: 'user' });
  });

  it('goes back to where the evidence put it, within 1 microsecond, also with drift', () => {
    expect(foundOffsetSec(foundPlacement)).toBeCloseTo(1, 6);
    const driftPpm = 40;
    const rate = 1 + driftPpm / 1e6;
    const evidence = foundPlacement.evidence.map((one) => ({ ...one, takeSec: (one.atSec - 1.5) * rate }));
    const moved = placed({ offsetSec: 1.7, driftPpm, evidence, by: 'user' });
    const after = apply(session, backEdit(moved)!).takes[0]!.placement!;
    expect(after.offsetSec).toBeCloseTo(1.5, 6);
    expect(after.by).toBe('found');
  });

  it('goes back to not placed where nothing spoke for a place', () => {
    const after = apply(session, backEdit(placed({ by: 'user', evidence: [] }))!).takes[0]!.placement;
    expect(after).toBeNull();
    expect(backEdit(take)).toBeUndefined();
  });
});

describe('picture of the evidence', () => {
  it('spans what was accepted with its reach', () => {
    const { halfMs, drawn } = layEvidence(foundPlacement);
    expect(halfMs).toBe(50);
    expect(drawn.map((one) => one.beyond)).toEqual([0, 0]);
  });

  it('draws at the edge what was set aside ten times further off', () => {
    const [clap, notes] = foundPlacement.evidence;
    const far = { ...clap!, accepted: false, weight: 0, takeSec: 3.5 };
    const { halfMs, drawn } = layEvidence({ ...foundPlacement, evidence: [far, notes!] });
    expect(halfMs).toBe(10);
    expect(drawn[0]!.beyond).toBe(1);
  });
});

describe('claps, magnified', () => {
  it('finds the moments takes clap at, the one with most takes first', () => {
    const [clap] = foundPlacement.evidence;
    const late: Take = placed({ evidence: [{ ...clap!, atSec: 90 }] });
    const moments = clapMoments([late, take, placed({ evidence: [{ ...clap!, atSec: 5.01 }] })]);
    expect(moments).toEqual([
      { atSec: 5.01, takes: 2 },
      { atSec: 90, takes: 1 },
    ]);
  });

  it('puts the clap of a take whose place is a guess behind the cues of the guide, and those behind claps that are sure', () => {
    const [clap] = foundPlacement.evidence;
    const guess = placed({ question: 'Where?', evidence: [{ ...clap!, atSec: 0.5 }] });
    expect(clapMoments([guess], [5, 88])).toEqual([
      { atSec: 5, takes: 0 },
      { atSec: 88, takes: 0 },
      { atSec: 0.5, takes: 1 },
    ]);
    const sure = placed({ evidence: [{ ...clap!, atSec: 5.02 }] });
    expect(clapMoments([guess, sure], [5])).toEqual([
      { atSec: 5.02, takes: 1 },
      { atSec: 0.5, takes: 1 },
    ]);
  });

  it('asks for the same samples after a nudge by 1 ms', () => {
    const first = runAround(5, { offsetSec: 1, driftPpm: 0 }, 48000, 60);
    expect(runAround(5, { offsetSec: 1.001, driftPpm: 0 }, 48000, 60)).toEqual(first);
    expect(runAround(500, null, 48000, 60)).toBeUndefined();
  });

  it('shows a click of one sample in the column of its session time', () => {
    const rateHz = 1000;
    const run = { from: 3000, count: 2000 };
    const samples = new Float32Array(2000);
    // The take begins at 1 s, so its 4 s sound at 5 s of the session.
    samples[1000] = 1;
    const pairs = columnsOf(samples, run, rateHz, { offsetSec: 1, driftPpm: 0 }, { fromSec: 4.95, toSec: 5.05 }, 100);
    const loud = Array.from({ length: 100 }, (_, n) => pairs[2 * n + 1]!).flatMap((high, n) => (high > 0.5 ? [n] : []));
    expect(loud.every((n) => Math.abs(n - 50) <= 1)).toBe(true);
    expect(loud.length).toBeGreaterThan(0);
  });

  it('shows a click after 20 ms of lost sound where it is heard', () => {
    const rateHz = 1000;
    const samples = new Float32Array(2000);
    samples[1010] = 1;
    // The take begins at 1 s and lost 20 ms at 4 s of its own: its 4.01 s sound at 5.03 s of the session.
    const lie = { offsetSec: 1, driftPpm: 0, bends: [{ takeSec: 4, jumpSec: 0.02, driftPpm: 0 }] };
    const window = { fromSec: 4.95, toSec: 5.05 };
    const pairs = columnsOf(samples, { from: 3000, count: 2000 }, rateHz, lie, window, 100);
    const loud = Array.from({ length: 100 }, (_, n) => pairs[2 * n + 1]!).flatMap((high, n) => (high > 0.5 ? [n] : []));
    expect(loud.length).toBeGreaterThan(0);
    expect(loud.every((n) => Math.abs(n - 80) <= 1)).toBe(true);
  });

  it('leaves columns empty where the take has no sound', () => {
    const pairs = columnsOf(
      new Float32Array(10),
      { from: 0, count: 10 },
      1000,
      null,
      { fromSec: -0.05, toSec: 0.05 },
      10,
    );
    expect(Number.isNaN(pairs[0]!)).toBe(true);
    expect(Number.isNaN(pairs[10]!)).toBe(false);
  });
});
