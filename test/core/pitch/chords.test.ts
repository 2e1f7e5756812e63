import { describe, expect, it } from 'vitest';
import { intonationReport } from '../../../core/pitch/intonation.ts';
import { beatsPerSec, heardFromCents, intervalSize } from '../../../core/pitch/just-intervals.ts';
import type { TunedNote, TunedVoice } from '../../../core/pitch/tuned-note.ts';
import { Random } from '../../../core/signal/random.ts';

const NOTE_SEC = 1;

/** A voice of notes of one second, four to the bar. */
function voice(
  name: string,
  keys: readonly number[],
  off: (index: number) => number,
  uncertaintyCents = 0.5,
  targetOf = (key: number) => 100 * (key - 69),
): TunedVoice {
  const notes = keys.map((key, n): TunedNote => {
    const fromSec = n * NOTE_SEC;
    const targetCents = targetOf(key);
    return {
      fromSec,
      toSec: fromSec + NOTE_SEC - 0.04,
      key,
      cents: targetCents + off(n),
      targetCents,
      spreadCents: 2,
      uncertaintyCents,
      bar: 1 + (n >> 2),
      onsetSec: fromSec,
      onsetUncertaintySec: 0.005,
      expectedSec: fromSec,
    };
  });
  return { id: name, name, notes };
}

const ROOTS = [48, 53, 55, 48, 57, 50, 55, 48, 53, 55, 48, 48];
const parts = (offs: readonly ((index: number) => number)[], uncertaintyCents = 0.5): TunedVoice[] =>
  [0, 7, 16, 24].map((above, n) =>
    voice(
      ['bass', 'tenor', 'alto', 'soprano'][n]!,
      ROOTS.map((root) => root + above),
      offs[n] ?? (() => 0),
      uncertaintyCents,
    ),
  );
const report = (voices: readonly TunedVoice[]) => intonationReport(voices, { referenceHz: null })!;

describe('sizes of intervals', () => {
  it.each([
    [0, 0, 1, 1],
    [3, 315.641, 6, 5],
    [4, 386.314, 5, 4],
    [5, 498.045, 4, 3],
    [7, 701.955, 3, 2],
    [8, 813.686, 8, 5],
    [9, 884.359, 5, 3],
    [12, 1200, 2, 1],
    [16, 1586.314, 5, 2],
    [19, 1901.955, 3, 1],
    [24, 2400, 4, 1],
    [28, 2786.314, 5, 1],
  ])(
    'of %i half tones: pure at %f cents, where partial %i of the low note meets partial %i of the high one',
    (halfTones, pure, ofLow, ofHigh) => {
      const size = intervalSize(halfTones, pure);
      expect(size.justCents).toBeCloseTo(pure, 2);
      expect(size.offCents).toBeCloseTo(0, 3);
      expect(size.partials).toEqual({ ofLow, ofHigh });
      expect(beatsPerSec(size, 220)).toBeCloseTo(0, 1);
    },
  );

  it('beat as partials do that should meet: a tempered fifth on A3 0.74 times a second', () => {
    // 3 * 220 - 2 * 220 * 2^(7/12) = 0.745 Hz.
    expect(beatsPerSec(intervalSize(7, 700), 220)).toBeCloseTo(0.745, 2);
  });

  it('with a seven are in tune by themselves in chords of the seventh, and no excuse for a narrow minor third', () => {
    expect(intervalSize(3, 268).offCents).toBeCloseTo(-32, 0);
    expect(intervalSize(3, 268, { isNatural: true }).offCents).toBeCloseTo(1.1, 1);
    expect(intervalSize(10, 968.8).offCents).toBeCloseTo(0, 0);
    // Half-way between 7/4 and 16/9 is neither.
    expect(Math.abs(intervalSize(10, 982).offCents)).toBeGreaterThan(12);
    expect(intervalSize(6, 582.5, { isNatural: true }).offCents).toBeCloseTo(0, 0);
    expect(intervalSize(6, 582.5).offCents).toBeCloseTo(-7.7, 1);
  });

  it('of the tuning in use are in tune: a Pythagorean third of 408 cents', () => {
    expect(intervalSize(4, 407.8).offCents).toBeCloseTo(7.8, 1);
    expect(intervalSize(4, 407.8, { tunedCents: 407.82 }).offCents).toBe(0);
  });

  it('are heard to be off from 6, 10 or 15 cents on, and later where half a beat does not fit in', () => {
    expect(heardFromCents(intervalSize(12, 1200), 440, 1)).toBe(6);
    expect(heardFromCents(intervalSize(4, 390), 220, 1)).toBe(10);
    expect(heardFromCents(intervalSize(2, 200), 220, 1)).toBe(15);
    // An octave over A1 (55 Hz) for half a second: half a beat of 110 Hz is 15.7 cents.
    expect(heardFromCents(intervalSize(12, 1200), 55, 0.5)).toBe(15);
    expect(heardFromCents(intervalSize(12, 1200), 110, 0.5)).toBeCloseTo(7.9, 1);
  });
});

describe('the worst chords', () => {
  it('has the one chord that is off first, with its bar and the note that is off by 20 cents', () => {
    for (const wrong of [0, 1, 2, 3]) {
      const found = report(parts([0, 1, 2, 3].map((n) => (index) => (n === wrong && index === 5 ? 20 : 0))));
      expect(found.chordsOut).toBe(1);
      expect(found.worstChords[0]!.bar).toBe(2);
      expect(found.worstChords[0]!.fault).toMatchObject({
        voiceId: ['bass', 'tenor', 'alto', 'soprano'][wrong],
        isHabit: false,
      });
      // Between equal and pure a fifth leaves 2 cents open.
      expect(Math.abs(found.worstChords[0]!.fault!.cents - 20)).toBeLessThan(2.1);
    }
  });

  it('has no chord that is off by less than its uncertainty: 12 chords of noise of 6 cents, 40 seeds', () => {
    let out = 0;
    for (let seed = 0; seed < 40; seed++) {
      const random = new Random(seed);
      const noise = () => 6 * random.gaussian();
      out += report(parts([noise, noise, noise, noise], 6)).chordsOut === 0 ? 0 : 1;
    }
    // One in twenty by chance.
    expect(out).toBeLessThanOrEqual(4);
  });

  it('finds nothing in chords that are pure, equal, or anything between', () => {
    for (const third of [-13.69, -7, 0]) {
      const found = report(parts([() => 0, () => (third === 0 ? 0 : 1.96), () => third, () => 0]));
      expect(found.chordsMeasured).toBe(12);
      expect(found.chordsOut).toBe(0);
      expect(found.worstChords).toEqual([]);
    }
  });

  it('says that a voice spoils chords all through, lists two of them, and then the one that another spoils', () => {
    const found = report(
      parts([() => 0, (index) => (index === 9 ? -25 : 0), () => 0, (index) => 26 + (index % 3) - 1]),
    );
    expect(found.chordsOut).toBe(12);
    const [first] = found.chordsOutByHabit;
    expect(first!.voiceId).toBe('soprano');
    expect(first!.count).toBeGreaterThanOrEqual(11);
    const causes = found.worstChords.map(({ fault }) => fault?.voiceId ?? null);
    expect(causes.filter((id) => id === 'soprano')).toHaveLength(2);
    expect(found.worstChords.length).toBeLessThanOrEqual(3);
  });

  it('leaves open which of two voices is off where the reference lies between them', () => {
    const two = [
      voice('low', [57, 57, 57, 57, 57, 57, 57, 57, 57], () => -8 + 0),
      voice('high', [69, 69, 69, 69, 69, 69, 69, 69, 69], () => 8),
    ];
    const found = report(two);
    expect(found.chordsOut).toBe(9);
    expect(found.worstChords.every(({ fault }) => fault === null)).toBe(true);
  });
});
