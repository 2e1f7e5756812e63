import { describe, expect, it } from 'vitest';
import { heardNotes } from '../../../core/pitch/heard-notes.ts';
import type { TakeMend } from '../../../core/pitch/mend.ts';
import { planMend } from '../../../core/pitch/mend-plan.ts';
import { MendedSound } from '../../../core/pitch/mended-sound.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { centsWithin, inRoom, noisy, played, row, sortedSizes, tone, tracked } from './pitch-kit.ts';

const RATE_HZ = 24000;
const PARTIALS = [0.1, 0.07, 0.05, 0.03, 0.02];

function mended(samples: Float32Array, mend: Partial<TakeMend>) {
  const sound = soundOf(samples, RATE_HZ);
  const plan = planMend(sound, { cents: 0, curve: [], nudges: [], ...mend });
  const out = new Float32Array(samples.length);
  new MendedSound(sound, plan).read(0, out);
  return { plan, out };
}

/** Level in windows of 10 ms, dB. */
function levels(samples: Float32Array): number[] {
  const step = RATE_HZ / 100;
  return Array.from({ length: Math.floor(samples.length / step) }, (_, n) => {
    const part = samples.subarray(n * step, (n + 1) * step);
    return 10 * Math.log10(part.reduce((sum, value) => sum + value * value, 1e-12) / step);
  });
}

/** Largest step of level from 10 ms to the next, dB. */
function levelStep(samples: Float32Array, from: number, to: number): number {
  const inside = levels(samples).slice(from, to);
  return Math.max(...inside.slice(1).map((level, n) => Math.abs(level - inside[n]!)));
}

/** Mean square of the second difference: a click raises it. */
function bends(samples: Float32Array, from: number, to: number): number {
  let sum = 0;
  for (let n = from; n < to; n++) sum += (samples[n - 1]! - 2 * samples[n]! + samples[n + 1]!) ** 2;
  return sum / (to - from);
}

describe('mending the pitch of a take', () => {
  it.each([-50, -20, 7, 20, 50])(
    'by %i cents does so within 0.3 cents, and keeps every moment within 20 ms',
    (cents) => {
      const { plan, out } = mended(
        tone(() => 220, 4, PARTIALS),
        { cents },
      );
      const off = centsWithin(tracked(out), 0.2, 3.8, 57).map((one) => one - cents);
      expect(sortedSizes(off)[off.length >> 1]).toBeLessThan(0.3);
      expect(sortedSizes(off).at(-1)).toBeLessThan(2);
      expect(plan.farthestSec).toBeLessThan(0.02);
      expect(plan.worst!.likeness).toBeGreaterThan(0.98);
      expect(out).toHaveLength(4 * RATE_HZ);
    },
  );

  it('leaves no step of level of 0.1 dB and no click at its splices', () => {
    const { plan, out } = mended(
      tone(() => 330, 4, PARTIALS),
      { cents: 30 },
    );
    // 10 ms hold 3.3 periods, so that the level of the plain tone moves, too.
    const plain = tone(() => 330 * 2 ** (30 / 1200), 4, PARTIALS);
    expect(levelStep(out, 20, 380)).toBeLessThan(levelStep(plain, 20, 380) + 0.1);
    const splices = plan.pieces.filter((piece) => piece.fadeFrames > 0);
    expect(splices.length).toBeGreaterThan(5);
    for (const { atFrame, fadeFrames } of splices.slice(1, -1)) {
      expect(bends(out, atFrame, atFrame + fadeFrames)).toBeLessThan(1.15 * bends(out, atFrame - 2400, atFrame));
    }
  });

  it.each(['bowed', 'blown', 'plucked', 'voice'] as const)(
    'keeps the notes of a %s take in a room: pitch within 1 cent of the move, onsets within 15 ms',
    (family) => {
      const notes = row([57, 60, 64, 62, 55], 0.6, 0.1, () => 0);
      const samples = noisy(inRoom(played(notes, family), 0.4, 5, 3), 30, 4);
      const before = heardNotes(tracked(samples));
      const { out } = mended(samples, { cents: -18 });
      const after = heardNotes(tracked(out));
      expect(after).toHaveLength(before.length);
      for (const [index, note] of after.entries()) {
        expect(Math.abs(note.cents - before[index]!.cents + 18)).toBeLessThan(1);
        expect(Math.abs(note.onsetSec - before[index]!.onsetSec)).toBeLessThan(0.015);
      }
    },
  );

  it('takes a slow curve against a voice that sinks by 30 cents: what is left is below 2.6 cents', () => {
    const sinking = tone((sec) => 262 * 2 ** ((-5 * sec) / 1200), 6, [0.1, 0.06, 0.04]);
    const curve = [
      { atSec: 0, cents: 0 },
      { atSec: 6, cents: 30 },
    ];
    const { out } = mended(sinking, { curve });
    const off = centsWithin(tracked(out), 0.3, 5.7, 60).map((one) => one - 1200 * Math.log2(262 / 261.6256));
    expect(sortedSizes(off)[Math.floor(0.98 * off.length)]).toBeLessThan(2.6);
  });

  it('that mends nothing changes no sample; any part can be read by itself; it can be stopped', () => {
    const samples = played(
      row([60, 64], 0.4, 0.1, () => 0),
      'bowed',
    );
    expect(mended(samples, {}).out.every((value, n) => value === samples[n])).toBe(true);
    const sound = soundOf(samples, RATE_HZ);
    const mend = { cents: 25, curve: [], nudges: [{ fromSec: 1, toSec: 2, byMs: 20 }] };
    const plan = planMend(sound, mend);
    const whole = new Float32Array(samples.length);
    new MendedSound(sound, plan).read(0, whole);
    const part = new Float32Array(5000);
    new MendedSound(sound, plan).read(9001, part);
    expect(part.every((value, n) => Math.abs(value - whole[9001 + n]!) < 1e-5)).toBe(true);
    expect(() => planMend(sound, mend, { cancel: { aborted: true } })).toThrow(CancelledError);
  });
});

describe('nudging a stretch of a take', () => {
  it.each(['bowed', 'blown', 'plucked', 'voice'] as const)(
    'lets the notes of a %s take in it begin when they were wished to within 1 ms, and leaves the others where they were',
    (family) => {
      const notes = row([57, 60, 64, 62, 55, 60, 57, 59], 0.5, 0.12, () => 0);
      const samples = noisy(played(notes, family), 50, 4);
      const nudge = { fromSec: notes[3]!.fromSec - 0.03, toSec: notes[4]!.toSec, byMs: -30 };
      const { plan, out } = mended(samples, { nudges: [nudge] });
      const lateMs = (index: number, nearMs: number): number =>
        lagMs(samples, out, notes[index]!.fromSec - 0.02, 0.06, nearMs);
      for (const n of [0, 1, 7]) expect(Math.abs(lateMs(n, 0))).toBeLessThan(0.1);
      for (const n of [3, 4]) expect(Math.abs(lateMs(n, -30) + 30)).toBeLessThan(1);
      expect(plan.landingSec).toBeLessThan(0.001);
      expect(plan.worst?.likeness ?? 1).toBeGreaterThan(0.98);
      // Before the first glide, in the nudged notes and after the next rest they are the very samples.
      const isSame = (fromSec: number, toSec: number, byMs: number): boolean => {
        const by = Math.round((byMs / 1000) * RATE_HZ);
        const [from, to] = [Math.round(fromSec * RATE_HZ), Math.round(toSec * RATE_HZ)];
        return samples.subarray(from, to).every((value, n) => out[from + by + n] === value);
      };
      expect(isSame(0, nudge.fromSec - 0.76, 0)).toBe(true);
      expect(isSame(notes[4]!.fromSec, nudge.toSec, -30)).toBe(true);
      expect(isSame(notes[7]!.toSec + 0.3, notes[7]!.toSec + 0.7, 0)).toBe(true);
    },
  );

  it.each([
    [110, 2.2],
    [220, 1],
    [440, 1],
  ])('of tones slurred one to the next from %i Hz on lands within %d ms', (hz, mostMs) => {
    const scale = [1, 1.122, 1.26, 1.335, 1.498, 1.335, 1.26, 1.122].map((step) => step * hz);
    const samples = tone((sec) => scale[Math.min(7, Math.floor(sec / 0.6))]!, 4.8, PARTIALS);
    const { plan, out } = mended(samples, { nudges: [{ fromSec: 1.79, toSec: 3, byMs: 25 }] });
    const lateMs = (index: number, nearMs: number): number => lagMs(samples, out, 0.6 * index + 0.1, 0.3, nearMs);
    for (const n of [0, 1]) expect(Math.abs(lateMs(n, 0))).toBeLessThan(0.05);
    for (const n of [3, 4]) expect(Math.abs(lateMs(n, 25) - 25)).toBeLessThan(mostMs);
    expect(Math.abs(lateMs(7, 0))).toBeLessThan(mostMs);
    expect(plan.landingSec).toBeLessThan(mostMs / 1000);
    expect(plan.glideCents).toBeLessThanOrEqual(10);
    // Levels of 10 ms move by themselves: here by their periods.
    expect(levelStep(out, 20, 460)).toBeLessThan(levelStep(samples, 20, 460) + 0.5);
    const splices = plan.pieces.filter((piece) => piece.fadeFrames > 0 && piece.atFrame < 4.6 * RATE_HZ);
    for (const { atFrame, fadeFrames } of splices) {
      const around = Math.max(bends(out, atFrame - 1200, atFrame), bends(out, atFrame + 480, atFrame + 1680));
      expect(bends(out, atFrame, atFrame + fadeFrames)).toBeLessThan(1.15 * around);
    }
  });
});

/** How much later a stretch of one sound comes in another, ms, by correlation within 4 ms of what is thought. */
function lagMs(one: Float32Array, other: Float32Array, fromSec: number, lengthSec: number, nearMs: number): number {
  const from = Math.round(fromSec * RATE_HZ);
  const count = Math.round(lengthSec * RATE_HZ);
  let best = 0;
  let most = -2;
  for (let lag = Math.round((nearMs - 4) * 0.001 * RATE_HZ); lag <= (nearMs + 4) * 0.001 * RATE_HZ; lag++) {
    let products = 0;
    let power = 1e-20;
    for (let n = Math.max(from, -lag); n < from + count && n + lag < other.length; n++) {
      products += one[n]! * other[n + lag]!;
      power += other[n + lag]! ** 2;
    }
    const likeness = products / Math.sqrt(power);
    if (likeness > most) {
      most = likeness;
      best = lag;
    }
  }
  return (1000 * best) / RATE_HZ;
}
