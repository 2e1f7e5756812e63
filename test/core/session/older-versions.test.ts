import { expect, test } from 'vitest';
import { parseSession, SESSION_VERSION } from '../../../core/session/schema.ts';

const clip = { path: 'clips/bass.mov', sizeBytes: 4096, fingerprint: 'b'.repeat(64) };

const placement = {
  offsetSec: 1.25,
  driftPpm: -12.5,
  uncertaintySec: 0.002,
  driftUncertaintyPpm: 3,
  confidence: 0.9,
  question: null,
  by: 'found',
  evidence: [],
};

/** A session as version 1 wrote it: no fine settings, guide plan, passages, marks, picture, parts or mending. */
const first = {
  format: 'partsong-session',
  version: 1,
  title: 'Evening canon',
  rateHz: 48000,
  guide: { clip },
  voices: [
    {
      id: 'v1',
      name: 'Bass',
      role: 'bass',
      colour: 3,
      trimDb: 0,
      placeDeg: null,
      muted: false,
      chosenTakeId: 't1',
    },
  ],
  takes: [
    {
      id: 't1',
      name: 'Bass 1',
      voiceId: 'v1',
      clip,
      silence: null,
      clean: { on: true, character: 'even', rule: 'lsa' },
      placement,
    },
  ],
  mix: { targetLufs: -14, ceilingDbtp: -1 },
};

/** The same as version 5 wrote it. */
const fifth = {
  ...first,
  version: 5,
  guide: { clip, plan: null },
  voices: first.voices.map((voice) => ({ ...voice, passages: null })),
  takes: first.takes.map((take) => ({ ...take, clean: { ...take.clean, fine: null }, mark: 'good', remark: 'calm' })),
  picture: null,
};

test('a session of version 1 is read with what came since left open', () => {
  const read = parseSession(JSON.stringify(first), 'session.json');
  expect(read.version).toBe(SESSION_VERSION);
  expect(read.takes[0]).toMatchObject({ part: null, mend: null, mark: 'none', placement: { driftPpm: -12.5 } });
  expect(read).toMatchObject({ guide: { plan: null }, voices: [{ passages: null }], picture: null });
});

test('a session of version 5 keeps its marks, and its takes are whole clips as they were played', () => {
  const read = parseSession(JSON.stringify(fifth), 'session.json');
  expect(read.takes[0]).toMatchObject({ mark: 'good', remark: 'calm', part: null, mend: null });
  expect(read.takes[0]!.placement).toEqual(placement);
});

test('bends that are not in order of time are refused by the name of their field', () => {
  const bends = [9, 3].map((takeSec) => ({ takeSec, jumpSec: 0.02, driftPpm: 0 }));
  const broken = { ...fifth, takes: fifth.takes.map((take) => ({ ...take, placement: { ...placement, bends } })) };
  expect(() => parseSession(JSON.stringify(broken), 'session.json')).toThrow(/takes\.0\.placement\.bends/);
});
