import { beforeAll, describe, expect, it } from 'vitest';
import type { PitchReportView } from '../../../../app/shell/contract/intonation-view.ts';
import { planNudges } from '../../../../core/pitch/mend.ts';
import { mendForOffset, mendForSink, nudgesFor } from '../../../../core/pitch/mend-wishes.ts';
import { apply } from '../../../../core/session/edit.ts';
import { type Mend, mendSchema, type Session } from '../../../../core/session/schema.ts';
import {
  heardSpan,
  levelOfCurve,
  mendedOffs,
  mendPlaceOf,
  middleOf,
  movedStretches,
  notesOfTake,
  nudgeOf,
  recordedSpan,
  shiftSince,
  withMend,
  withNudge,
} from '../../../../renderer/steps/intonation/mend-edits.ts';
import { standInBridge } from '../../../stand-in/stand-in-bridge.ts';
import { inventedIntonation } from '../../../stand-in/stand-in-intonation.ts';

const LENGTH_SEC = 120;
let session: Session;
let report: PitchReportView;

beforeAll(async () => {
  const start = await standInBridge(new URLSearchParams(`voices=4&length=${LENGTH_SEC}`)).calls.begin({});
  session = start.desk!.session;
  report = inventedIntonation(session, null, LENGTH_SEC).report!;
});

const mended = (takeId: string, mend: Mend | null): Session => apply(session, { kind: 'setMend', takeId, mend });
const notesOf = (voiceId: string) => report.intonation!.voices.find(({ id }) => id === voiceId)!.notes;

describe('what is mended', () => {
  it('is nothing once every part of it is taken back', () => {
    const mend = withMend(null, { cents: 5 });
    expect(mend).toEqual({ cents: 5, curve: [], nudges: [] });
    expect(withMend(mend, { cents: 0 })).toBeNull();
    expect(withMend(null, { curve: [{ atSec: 1, cents: 0 }] })).toBeNull();
    expect(
      withNudge(withNudge(null, { fromSec: 1, toSec: 2, byMs: 20 }), { fromSec: 1, toSec: 2, byMs: 0 }),
    ).toBeNull();
  });

  it('keeps stretches apart and in order when one is laid over others, and fits the schema', () => {
    let mend: Mend | null = null;
    for (const [fromSec, toSec, byMs] of [
      [10, 40, -28],
      [20, 25, 25],
      [5, 12, 10],
      [24.98, 25.5, 40],
    ] as const) {
      mend = withNudge(mend, { fromSec, toSec, byMs });
    }
    expect(mend!.nudges).toEqual([
      { fromSec: 5, toSec: 12, byMs: 10 },
      { fromSec: 12, toSec: 20, byMs: -28 },
      { fromSec: 20, toSec: 24.98, byMs: 25 },
      { fromSec: 24.98, toSec: 25.5, byMs: 40 },
      { fromSec: 25.5, toSec: 40, byMs: -28 },
    ]);
    expect(mendSchema.safeParse(mend).success).toBe(true);
  });

  it('knows a stretch again that itself has moved by up to 60 ms, and only changes by how much', () => {
    const mend = withNudge(null, { fromSec: 10, toSec: 11, byMs: 60 });
    expect(nudgeOf(mend, { fromSec: 10.06, toSec: 11.05 })?.byMs).toBe(60);
    expect(withNudge(mend, { fromSec: 10.06, toSec: 11.05, byMs: -5 })!.nudges).toEqual([
      { fromSec: 10, toSec: 11, byMs: -5 },
    ]);
  });
});

describe('a stretch of a mended take', () => {
  it('goes from session time to the take as it was recorded and back within 1 µs', () => {
    const take = mended('take-2', withNudge(null, { fromSec: 20, toSec: 24, byMs: 45 })).takes[1]!;
    const place = mendPlaceOf(take);
    const span = { fromSec: 20.7, toSec: 23.1 };
    const there = heardSpan(place, recordedSpan(place, span));
    expect(there.fromSec).toBeCloseTo(span.fromSec, 6);
    expect(there.toSec).toBeCloseTo(span.toSec, 6);
  });

  it('is told for the lanes with how much later it sounds', () => {
    const next = mended('take-1', withNudge(null, { fromSec: 20, toSec: 24, byMs: -45 }));
    const [moved] = movedStretches(next, next.voices[0]!);
    expect(moved!.words).toBe('45 ms earlier');
    // Take 1 begins at −0.4 s.
    expect(moved!.fromSec).toBeCloseTo(19.6 - 0.045, 6);
  });
});

describe('what mending adds since a report', () => {
  it('is what was changed since then, cents', () => {
    const then = withMend(null, { cents: 10 });
    const next = mended('take-3', withMend(then, { cents: 14 }));
    const shift = shiftSince(next, next.voices[2]!, { mends: { 'take-3': then! } });
    expect(shift!(30)).toBeCloseTo(4, 9);
    expect(shiftSince(next, next.voices[0]!, { mends: {} })).toBeNull();
    expect(shiftSince(next, next.voices[2]!, { mends: { 'take-3': next.takes[2]!.mend! } })).toBeNull();
  });

  it('is nothing that can be told where the report does not say what was mended', () => {
    const next = mended('take-3', withMend(null, { cents: 14 }));
    expect(shiftSince(next, next.voices[2]!, {})).toBeNull();
  });
});

describe('the notes of a take', () => {
  it('lie where the proposed cents bring them, within 2 cents of what is wanted', () => {
    const [voice, take] = [session.voices[2]!, session.takes[2]!];
    const notes = notesOfTake(session, voice, take, notesOf(voice.id));
    const cents = mendForOffset(notes, mendPlaceOf(take));
    expect(cents).toBeGreaterThan(8);
    const next = mended(take.id, withMend(null, { cents }));
    const offs = mendedOffs(notes, mendPlaceOf(next.takes[2]!), null);
    expect(middleOf(offs, 'playedCents')! + cents).toBeCloseTo(middleOf(offs, 'offCents')!, 6);
    expect(Math.abs(middleOf(offs, 'offCents')!)).toBeLessThan(2);
    expect(middleOf([], 'offCents')).toBeNull();
  });

  it('have a proposed curve whose level goes through them, from high to low', () => {
    const [voice, take] = [session.voices[0]!, session.takes[0]!];
    const notes = notesOfTake(session, voice, take, notesOf(voice.id));
    const place = mendPlaceOf(take);
    const curve = [...mendForSink(notes, place)];
    expect(curve.length).toBeGreaterThan(1);
    const level = levelOfCurve(curve, mendedOffs(notes, place, null), place);
    expect(level[0]!.cents).toBeGreaterThan(level.at(-1)!.cents + 6);
    expect(levelOfCurve([], mendedOffs(notes, place, null), place)).toEqual([]);
  });

  it('are brought into time by proposed stretches, which can be made as they are wished', () => {
    const take = session.takes[2]!;
    const timed = report.timing!.voices[2]!.notes;
    const nudges = nudgesFor(timed, mendPlaceOf(take));
    expect(nudges.length).toBeGreaterThan(0);
    const mend = nudges.reduce<Mend | null>(withNudge, null)!;
    expect(planNudges(mend).held).toEqual([]);
  });

  it('are none for a take that is not heard', () => {
    const other = { ...session.takes[2]!, id: 'take-9' };
    expect(notesOfTake(session, session.voices[2]!, other, notesOf('voice-3'))).toEqual([]);
  });
});
