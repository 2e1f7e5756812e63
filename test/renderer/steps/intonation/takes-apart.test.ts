import { describe, expect, it } from 'vitest';
import type { Session } from '../../../../core/session/schema.ts';
import { takesApart, takesApartWords } from '../../../../renderer/steps/intonation/takes-apart.ts';
import { benchSession } from '../bench-session.ts';

/** A voice that changes to its second take at 10 s, or stays with its first. */
function session(isOfTwo: boolean): Session {
  const { takes, voices, ...rest } = benchSession(1);
  const [take] = takes;
  const passages = [
    { takeId: 'take-1', fromSec: 0, toSec: 10 },
    { takeId: 'take-2', fromSec: 10, toSec: 20 },
  ];
  return {
    ...rest,
    takes: [take!, { ...take!, id: 'take-2', name: 'Take 2' }],
    voices: [{ ...voices[0]!, passages: isOfTwo ? passages : null }],
  };
}

/** A note a second, off by so many cents. */
const voice = (offs: readonly number[]) => ({
  id: 'voice-1',
  notes: offs.map((offCents, n) => ({
    ...{ fromSec: 2 * n, toSec: 2 * n + 1, key: 60, bar: null, hz: 262 },
    ...{ offCents, uncertaintyCents: 1, spreadCents: 0 },
  })),
});

describe('a voice of takes that are tuned apart', () => {
  it('is told with the take that lies higher and by how much', () => {
    const apart = takesApart(voice([30, 28, 29, 29, 30, 0, -1, 1, 0, 2]), session(true));
    expect(apart).toEqual({ lower: 'Take 2', higher: 'Take 1', cents: 29 });
    expect(takesApartWords(apart!)).toBe(
      'Its takes are tuned apart: Take 1 lies 29 cents above Take 2; “Mend” moves a take.',
    );
  });

  it('is not told below the 6 cents that are heard, of fewer than 3 notes, nor of a voice of one take', () => {
    expect(takesApart(voice([5, 5, 5, 5, 5, 0, 0, 0, 0, 0]), session(true))).toBeNull();
    expect(takesApart(voice([30, 30, 30, 30, 30, 0, 0]), session(true))).toBeNull();
    expect(takesApart(voice([30, 28, 29, 29, 30, 0, -1, 1, 0, 2]), session(false))).toBeNull();
  });
});
