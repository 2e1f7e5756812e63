import { describe, expect, it } from 'vitest';
import { heardNotes } from '../../../core/pitch/heard-notes.ts';
import type { TakeMend } from '../../../core/pitch/mend.ts';
import { planMend } from '../../../core/pitch/mend-plan.ts';
import { mendedNotes } from '../../../core/pitch/mended-notes.ts';
import { MendedSound } from '../../../core/pitch/mended-sound.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { inRoom, noisy, played, RATE_HZ, row, tracked } from './pitch-kit.ts';

const notes = row([57, 60, 64, 62, 55, 60, 57, 59, 62, 64], 0.5, 0.12, () => 0);

/** What is reckoned and what is heard in the mended sound. */
function both(family: 'bowed' | 'blown' | 'plucked' | 'voice', mend: TakeMend) {
  const samples = noisy(inRoom(played(notes, family), 0.3, 8, 5), 40, 4);
  const sound = soundOf(samples, RATE_HZ);
  const track = tracked(samples);
  const reckoned = mendedNotes({ notes: heardNotes(track) }, track, mend);
  const out = new Float32Array(samples.length);
  new MendedSound(sound, planMend(sound, mend)).read(0, out);
  const heardTrack = tracked(out);
  return { reckoned, heard: heardNotes(heardTrack), heardTrack };
}

describe('notes of a mended take, reckoned from what was tracked before it', () => {
  it.each(['bowed', 'blown', 'plucked', 'voice'] as const)(
    'are those that are heard in the mended %s take: within 1 cent, onsets of nudged notes within 2 ms',
    (family) => {
      const nudge = { fromSec: notes[4]!.fromSec - 0.03, toSec: notes[6]!.toSec, byMs: 24 };
      const { reckoned, heard } = both(family, { cents: 0, curve: [], nudges: [nudge] });
      expect(heard).toHaveLength(reckoned.tracked.notes.length);
      for (const [n, note] of reckoned.tracked.notes.entries()) {
        // In the glides before and after it what is struck lies within the 14 ms that a splice may run ahead; after them the
        // last 2 ms, half a period, are closed by 4 cents at most.
        const isGlide = n === 3 || n === 7;
        const mostSec = isGlide ? 0.016 : n > 7 ? 0.0045 : 0.0025;
        const mostCents = isGlide ? 4.5 : n > 7 ? 2.5 : 1;
        expect(Math.abs(heard[n]!.onsetSec - note.onsetSec)).toBeLessThan(mostSec);
        expect(Math.abs(heard[n]!.cents - note.cents)).toBeLessThan(mostCents);
      }
    },
  );

  it.each(['bowed', 'blown', 'plucked', 'voice'] as const)(
    'follow cents and a curve of a %s take within 1 cent, note by note and along the row',
    (family) => {
      const curve = [
        { atSec: 1, cents: 0 },
        { atSec: 6, cents: 24 },
      ];
      const { reckoned, heard, heardTrack } = both(family, { cents: -12, curve, nudges: [] });
      expect(heard).toHaveLength(reckoned.tracked.notes.length);
      for (const [n, note] of reckoned.tracked.notes.entries()) {
        expect(Math.abs(heard[n]!.cents - note.cents)).toBeLessThan(1);
        const middle = Math.round((0.5 * (note.fromSec + note.toSec) - heardTrack.firstSec) / heardTrack.hopSec);
        expect(Math.abs(1200 * Math.log2(reckoned.row.hz[middle]! / heardTrack.hz[middle]!))).toBeLessThan(3);
      }
    },
  );

  it('are the very same where nothing is mended', () => {
    const row = { hopSec: 0.01, firstSec: 0, hz: Float64Array.of(440, Number.NaN) };
    const tracked = { notes: [] };
    expect(mendedNotes(tracked, row, null)).toEqual({ tracked, row });
    expect(mendedNotes(tracked, row, { cents: 0, curve: [], nudges: [] }).row).toBe(row);
  });
});
