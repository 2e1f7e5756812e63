import { describe, expect, it } from 'vitest';
import { intonationReport } from '../../../../core/pitch/intonation.ts';
import { timingReport } from '../../../../core/pitch/timing.ts';
import type { TunedNote } from '../../../../core/pitch/tuned-note.ts';
import { filteredRows, noteRows, sortedRows } from '../../../../renderer/steps/intonation/note-rows.ts';

/** A note a second, `cents` off and `lateMs` late; null: its beginning is not known. */
function note(at: number, cents: number, lateMs: number | null): TunedNote {
  const fromSec = at + (lateMs ?? 0) / 1000;
  return {
    fromSec,
    toSec: fromSec + 0.9,
    key: 60 + (at % 3),
    cents: 100 * (60 + (at % 3) - 69) + cents,
    targetCents: 100 * (60 + (at % 3) - 69),
    spreadCents: 2,
    uncertaintyCents: 1,
    bar: 1 + Math.floor(at / 4),
    onsetSec: lateMs === null ? null : fromSec + 0.005,
    onsetUncertaintySec: 0.004,
    expectedSec: at,
  };
}

const voices = [
  {
    id: 'a',
    name: 'Alto',
    notes: [0, 1, 2, 3, 4].map((at) => note(at, [0, 20, -30, 5, 1][at]!, at === 2 ? null : 10 * at)),
  },
  { id: 'b', name: 'Bass', notes: [0, 1].map((at) => note(at, 0, -40)) },
];
const rows = noteRows({
  intonation: intonationReport(voices, { referenceHz: 440 }) ?? null,
  timing: timingReport(voices, 'guide'),
});

describe('the notes of a report as rows', () => {
  it('have each the beginning that is theirs, within 1 ms, and none where it is not known', () => {
    const lates = rows.map(({ late }) => (late === null ? null : Math.round(late.ms)));
    expect(lates).toEqual([5, 15, null, 35, 45, -35, -35]);
  });

  it('are let through when they are off by more than a number of cents or ms', () => {
    const at = (some: typeof rows): string[] => some.map(({ voiceId, at: n }) => voiceId + n);
    expect(at(filteredRows(rows, { by: 'cents', above: 15 }))).toEqual(['a1', 'a2']);
    expect(at(filteredRows(rows, { by: 'ms', above: 34 }))).toEqual(['a3', 'a4', 'b0', 'b1']);
    expect(filteredRows(rows, { by: 'none' }).length).toBe(7);
  });

  it('are put in order by how far they are off, either way round, those not known last', () => {
    const cents = sortedRows(rows, 'cents', false).map(({ note: { offCents } }) => Math.round(offCents));
    expect(cents.slice(0, 3)).toEqual([-30, 20, 5]);
    expect(sortedRows(rows, 'late', false).at(-1)!.late).toBeNull();
    expect(sortedRows(rows, 'time', true)[0]!.at).toBe(4);
  });

  it('are there without any timing', () => {
    const intonation = intonationReport(voices, { referenceHz: 440 }) ?? null;
    expect(noteRows({ intonation, timing: null }).every(({ late }) => late === null)).toBe(true);
    expect(noteRows({ intonation: null, timing: null })).toEqual([]);
  });
});
