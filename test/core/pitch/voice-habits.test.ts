import { describe, expect, it } from 'vitest';
import { intonationReport } from '../../../core/pitch/intonation.ts';
import type { TunedNote, TunedVoice } from '../../../core/pitch/tuned-note.ts';
import type { VoiceHabit } from '../../../core/pitch/voice-habits.ts';
import { Random } from '../../../core/signal/random.ts';

const SCALE = [60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79];
const LENGTHS_SEC = [0.3, 0.6, 0.6, 1.2];

interface Player {
  readonly count: number;
  /** Off the temperament on purpose: by share of the piece, 0 to 1, and key. */
  readonly off?: (share: number, key: number) => number;
  /** The melody climbs an octave from beginning to end. */
  readonly climbs?: boolean;
}

/**
 * A melody in steps, played by somebody human: single notes off by 3 cents (one in twenty by some 40), each key off by some 3 cents
 * of its own, and a slow wandering of 3 cents (half lost after six notes).
 */
function voiceOf(name: string, random: Random, { count, off = () => 0, climbs = false }: Player): TunedVoice {
  const ofKey = new Map<number, number>();
  const keep = Math.exp(-1 / 8);
  let wander = 3 * random.gaussian();
  let at = 5;
  let sec = 0;
  const notes = Array.from({ length: count }, (_, n): TunedNote => {
    const share = n / (count - 1);
    const [low, high] = climbs ? [Math.round(6 * share), Math.round(5 + 6 * share)] : [0, 11];
    at = Math.max(low, Math.min(high, at + [-2, -1, -1, 1, 1, 2, 0][random.uint32() % 7]!));
    const key = SCALE[at]!;
    if (!ofKey.has(key)) ofKey.set(key, 3 * random.gaussian());
    wander = keep * wander + 3 * Math.sqrt(1 - keep * keep) * random.gaussian();
    const slip = random.uniform() < 0.05 ? 40 * random.gaussian() : 0;
    const targetCents = 100 * (key - 69);
    const fromSec = sec;
    sec += LENGTHS_SEC[random.uint32() % 4]!;
    return {
      fromSec,
      toSec: sec - 0.05,
      key,
      cents: targetCents + off(share, key) + ofKey.get(key)! + wander + 3 * random.gaussian() + slip,
      targetCents,
      spreadCents: 2,
      uncertaintyCents: 1,
      bar: 1 + (n >> 2),
      onsetSec: fromSec,
      onsetUncertaintySec: 0.005,
      expectedSec: fromSec,
    };
  });
  return { id: name, name, notes };
}

/** Habits of the first of three voices over many seeds; the other two have none. */
function habitsOf(player: Player, seeds: number): VoiceHabit[][] {
  return Array.from({ length: seeds }, (_, seed) => {
    const random = new Random(7001 + 2 * seed);
    const voices = [player, { count: player.count }, { count: player.count }].map((one, n) =>
      voiceOf(`voice ${n + 1}`, random, one),
    );
    return [...intonationReport(voices, { referenceHz: 440 })!.voices[0]!.habits];
  });
}

function share(all: readonly VoiceHabit[][], is: (habits: readonly VoiceHabit[]) => boolean): number {
  return all.filter(is).length / all.length;
}

const has =
  (...kinds: VoiceHabit['kind'][]) =>
  (habits: readonly VoiceHabit[]): boolean =>
    habits.some(({ kind }) => kinds.includes(kind));

// Seeds that no constant was chosen on. Shares over 40 takes lie within 0.07 of the truth in 95 of 100 cases.
describe('habits of a voice', () => {
  it('are told of at most one in twenty voices that have none', () => {
    const all = [30, 100].flatMap((count) => [false, true].flatMap((climbs) => habitsOf({ count, climbs }, 40)));
    expect(share(all, (habits) => habits.length > 0)).toBeLessThanOrEqual(0.05);
  });

  it('flat by 12 cents all through: told in 95 % and more, within 3 cents in 90 %', () => {
    const all = habitsOf({ count: 60, off: () => -12 }, 40);
    expect(share(all, has('lowAll'))).toBeGreaterThanOrEqual(0.95);
    const near = share(all, (habits) =>
      habits.some(({ kind, cents }) => kind === 'lowAll' && Math.abs(cents + 12) < 3),
    );
    expect(near).toBeGreaterThanOrEqual(0.9);
  });

  it('sinking by 20 cents: told in two thirds and more of voices of 100 notes, and not as flat on high notes', () => {
    for (const climbs of [false, true]) {
      const all = habitsOf({ count: 100, climbs, off: (at) => 10 - 20 * at }, 40);
      expect(share(all, has('sinks', 'sinksOrHigh'))).toBeGreaterThanOrEqual(0.66);
      expect(share(all, has('flatHigh'))).toBeLessThanOrEqual(0.05);
    }
  });

  it('flat by 2 cents for each half tone up: told in 85 % and more, and not as sinking where the melody climbs', () => {
    for (const climbs of [false, true]) {
      const all = habitsOf({ count: 100, climbs, off: (_, key) => -2 * (key - 68) }, 40);
      expect(share(all, has('flatHigh'))).toBeGreaterThanOrEqual(0.85);
      expect(share(all, has('sinks'))).toBeLessThanOrEqual(0.05);
    }
  });

  it.each([
    [1, -1, 'sinksOrHigh', 'horn ends 23 cents flatter than it begins, and its notes lie higher'],
    [-1, -1, 'sinksOrHigh', 'horn ends 23 cents flatter than it begins, and its notes lie lower'],
    [1, 1, 'risesOrHigh', 'horn ends 23 cents sharper than it begins, and its notes lie higher'],
  ])(
    'says that it cannot tell time from height where a melody only goes one way (%i, %i cents a note)',
    (way, per, kind, said) => {
      const notes = Array.from({ length: 24 }, (_, n): TunedNote => {
        const key = 70 + way * n;
        const targetCents = 100 * (key - 69);
        const cents = targetCents + per * n + (n % 3) - 1;
        const times = { fromSec: n, toSec: n + 0.9, onsetSec: n, expectedSec: n, onsetUncertaintySec: 0.005 };
        return { ...times, key, cents, targetCents, spreadCents: 2, uncertaintyCents: 1, bar: 1 };
      });
      const [voice] = intonationReport([{ id: 'a', name: 'horn', notes }], { referenceHz: null })!.voices;
      expect(voice!.habits.map((habit) => habit.kind)).toEqual([kind]);
      expect(voice!.habits[0]!.cents).toBeCloseTo(23 * per, 0);
      expect(voice!.habits[0]!.sentence).toContain(said);
    },
  );

  it('of one voice that sinks is not said of all, but of all where all do', () => {
    const random = new Random(3);
    const sinking = { count: 80, off: (at: number) => 10 - 20 * at };
    const one = [sinking, { count: 80 }, { count: 80 }].map((player, n) => voiceOf(`v${n}`, random, player));
    const alone = intonationReport(one, { referenceHz: null })!;
    // Not so far that it would be told.
    expect(Math.abs(alone.drift!.totalCents)).toBeLessThan(Math.max(6, 2 * alone.drift!.uncertaintyCents));
    expect(Math.abs(alone.drift!.totalCents)).toBeLessThan(10);
    expect(alone.voices[0]!.habits.find(({ kind }) => kind === 'sinks')!.sentence).toContain('a slow curve mends it');
    const all = intonationReport(
      [0, 1, 2].map((n) => voiceOf(`v${n}`, random, sinking)),
      { referenceHz: null },
    )!;
    expect(Math.abs(all.drift!.totalCents + 20)).toBeLessThan(5);
    expect(all.voices[0]!.habits.find(({ kind }) => kind === 'sinks')!.sentence).toContain('as all do');
  });
});
