import { describe, expect, it } from 'vitest';
import { heardNotes } from '../../../core/pitch/heard-notes.ts';
import { pitchVerdict } from '../../../core/pitch/pitch-verdict.ts';
import { Random } from '../../../core/signal/random.ts';
import { inRoom, noisy, played, RATE_HZ, row, tone, tracked } from './pitch-kit.ts';

describe('notes of a track', () => {
  it('are parted at rests, at leaps and at strokes of the same pitch, onsets of plucked notes within 10 ms', () => {
    const notes = row([52, 52, 55, 59, 59, 64, 60], 0.4, 0.05, () => 5);
    const found = heardNotes(tracked(noisy(inRoom(played(notes, 'plucked'), 0.3, 6, 1), 35, 2)));
    expect(found.map((note) => Math.round(note.cents / 100) + 69)).toEqual(notes.map((note) => note.key));
    for (const [index, note] of found.entries()) {
      expect(Math.abs(note.onsetSec - notes[index]!.fromSec)).toBeLessThan(0.01);
      expect(Math.abs(note.cents - 100 * (notes[index]!.key - 69) - 5)).toBeLessThan(3);
    }
  });

  it('are one where a blown note is held', () => {
    const found = heardNotes(
      tracked(
        noisy(
          played(
            row([67, 65], 1.2, 0.2, () => 0),
            'blown',
          ),
          30,
          3,
        ),
      ),
    );
    expect(found).toHaveLength(2);
    expect(found[0]!.toSec - found[0]!.fromSec).toBeGreaterThan(1.1);
  });
});

describe('a note with a vibrato of 5.5 Hz whose level swings by 12 dB', () => {
  const swung = (sec: number): number => Math.sin(2 * Math.PI * 5.5 * sec);
  it('is one note', () => {
    const plain = tone((sec) => 660 * 2 ** ((15 * swung(sec)) / 1200), 2, [0.1, 0.05, 0.02]);
    const sound = plain.map((value, n) => value * 10 ** ((6 * swung(n / RATE_HZ)) / 20));
    expect(heardNotes(tracked(noisy(sound, 30, 5)))).toHaveLength(1);
  });
});

describe('a note of one pitch', () => {
  it('is one note where its level alone swings by 16 dB at 6 Hz', () => {
    const plain = tone(() => 1320, 2.5, [0.1, 0.03]);
    const sound = plain.map((value, n) => value * 10 ** ((8 * Math.sin((12 * Math.PI * n) / RATE_HZ)) / 20));
    expect(heardNotes(tracked(noisy(sound, 30, 6)))).toHaveLength(1);
  });

  it('is ten notes where its level dips by 16 dB for 0.1 s twice a second', () => {
    const plain = tone(() => 1320, 5, [0.1, 0.03]);
    const sound = plain.map((value, n) => {
      const sec = n / RATE_HZ;
      const dipSec = Math.max(1, Math.min(9, Math.round(2 * sec))) / 2;
      return value * 10 ** ((-16 * Math.max(0, 1 - Math.abs(sec - dipSec) / 0.05)) / 20);
    });
    expect(heardNotes(tracked(noisy(sound, 30, 6)))).toHaveLength(10);
  });
});

describe('what can be measured', () => {
  it('is a melody in a room', () => {
    const verdict = pitchVerdict(
      tracked(
        noisy(
          inRoom(
            played(
              row([60, 64, 67, 72], 0.5, 0.1, () => 0),
              'voice',
            ),
            0.5,
            3,
            1,
          ),
          20,
          1,
        ),
      ),
    );
    expect(verdict.kind).toBe('pitched');
  });

  it.each(['struck', 'plucked', 'bowed', 'blown'] as const)('is not a %s take of chords, and it is said', (family) => {
    const chords = [
      [48, 52, 55],
      [53, 57, 60],
    ].map((keys, index) => keys.map((key) => ({ fromSec: 0.5 + index, toSec: 1.4 + index, key, cents: 0 })));
    const verdict = pitchVerdict(tracked(noisy(played(chords.flat(), family), 40, 2)));
    expect(verdict.kind).toBe('several');
    expect(verdict.sentence).toContain('Several notes');
  });

  it('is neither noise, nor drums, nor silence', () => {
    const random = new Random(3);
    const noise = Float32Array.from({ length: 3 * RATE_HZ }, () => 0.1 * random.gaussian());
    expect(pitchVerdict(tracked(noise)).kind).toBe('unpitched');
    const drums = noise.map((value, n) => value * Math.exp((-8 * (n % 8000)) / 8000));
    expect(pitchVerdict(tracked(drums)).kind).toBe('unpitched');
    expect(pitchVerdict(tracked(new Float32Array(RATE_HZ))).kind).toBe('silent');
  });
});
