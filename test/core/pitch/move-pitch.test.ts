import { describe, expect, it } from 'vitest';
import { heardNotes } from '../../../core/pitch/heard-notes.ts';
import { MovedSound, planPitchMove } from '../../../core/pitch/move-pitch.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { centsWithin, inRoom, noisy, played, row, sortedSizes, tone, tracked } from './pitch-kit.ts';

const RATE_HZ = 24000;

function moved(samples: Float32Array, centsAt: (sec: number) => number) {
  const sound = soundOf(samples, RATE_HZ);
  const move = planPitchMove(sound, centsAt);
  const out = new Float32Array(samples.length);
  new MovedSound(sound, move).read(0, out);
  return { move, out };
}

/** Level in windows of 10 ms, dB. */
function levels(samples: Float32Array): number[] {
  const step = RATE_HZ / 100;
  return Array.from({ length: Math.floor(samples.length / step) }, (_, n) => {
    const part = samples.subarray(n * step, (n + 1) * step);
    return 10 * Math.log10(part.reduce((sum, value) => sum + value * value, 1e-12) / step);
  });
}

describe('moving the pitch of a take', () => {
  it.each([-50, -20, 7, 20, 50])(
    'by %i cents does so within 0.3 cents, and keeps every moment within 20 ms',
    (cents) => {
      const { move, out } = moved(
        tone(() => 220, 4, [0.1, 0.07, 0.05, 0.03, 0.02]),
        () => cents,
      );
      const off = centsWithin(tracked(out), 0.2, 3.8, 57).map((one) => one - cents);
      expect(sortedSizes(off)[off.length >> 1]).toBeLessThan(0.3);
      expect(sortedSizes(off).at(-1)).toBeLessThan(2);
      expect(move.farthestSec).toBeLessThan(0.02);
      expect(move.leastLikeness).toBeGreaterThan(0.98);
      expect(out).toHaveLength(4 * RATE_HZ);
    },
  );

  it('leaves no step of level of 0.1 dB and no click at its splices', () => {
    const { move, out } = moved(
      tone(() => 330, 4, [0.1, 0.07, 0.05, 0.03]),
      () => 30,
    );
    const steps = (samples: Float32Array): number => {
      const inside = levels(samples).slice(20, 380);
      return Math.max(...inside.slice(1).map((level, n) => Math.abs(level - inside[n]!)));
    };
    // 10 ms hold 3.3 periods, so that the level of the plain tone moves, too.
    const plain = tone(() => 330 * 2 ** (30 / 1200), 4, [0.1, 0.07, 0.05, 0.03]);
    expect(steps(out)).toBeLessThan(steps(plain) + 0.1);
    const bends = (from: number, to: number): number => {
      let sum = 0;
      for (let n = from; n < to; n++) sum += (out[n - 1]! - 2 * out[n]! + out[n + 1]!) ** 2;
      return sum / (to - from);
    };
    const splices = move.pieces.filter((piece) => piece.fadeFrames > 0);
    expect(splices.length).toBeGreaterThan(5);
    for (const { atFrame, fadeFrames } of splices.slice(1, -1)) {
      expect(bends(atFrame, atFrame + fadeFrames)).toBeLessThan(1.15 * bends(atFrame - 2400, atFrame));
    }
  });

  it.each(['bowed', 'blown', 'plucked', 'voice'] as const)(
    'keeps the notes of a %s take in a room: pitch within 1 cent of the move, onsets within 20 ms',
    (family) => {
      const notes = row([57, 60, 64, 62, 55], 0.6, 0.1, () => 0);
      const samples = noisy(inRoom(played(notes, family), 0.4, 5, 3), 30, 4);
      const before = heardNotes(tracked(samples));
      const { out } = moved(samples, () => -18);
      const after = heardNotes(tracked(out));
      expect(after).toHaveLength(before.length);
      for (const [index, note] of after.entries()) {
        expect(Math.abs(note.cents - before[index]!.cents + 18)).toBeLessThan(1);
        expect(Math.abs(note.onsetSec - before[index]!.onsetSec)).toBeLessThan(0.02);
      }
    },
  );

  it('takes a slow curve against a voice that sinks by 30 cents: what is left is below 2 cents', () => {
    const sinking = tone((sec) => 262 * 2 ** ((-5 * sec) / 1200), 6, [0.1, 0.06, 0.04]);
    const { out } = moved(sinking, (sec) => 5 * sec);
    const off = centsWithin(tracked(out), 0.3, 5.7, 60).map((one) => one - 1200 * Math.log2(262 / 261.6256));
    expect(sortedSizes(off)[Math.floor(0.98 * off.length)]).toBeLessThan(2.6);
  });

  it('by 0 cents changes no sample; any part can be read by itself; it can be stopped', () => {
    const samples = played(
      row([60, 64], 0.4, 0.1, () => 0),
      'bowed',
    );
    expect(moved(samples, () => 0).out).toEqual(samples);
    const sound = soundOf(samples, RATE_HZ);
    const move = planPitchMove(sound, () => 25);
    const whole = new Float32Array(samples.length);
    new MovedSound(sound, move).read(0, whole);
    const part = new Float32Array(5000);
    new MovedSound(sound, move).read(9001, part);
    for (let n = 0; n < part.length; n++) expect(Math.abs(part[n]! - whole[9001 + n]!)).toBeLessThan(1e-5);
    expect(() => planPitchMove(sound, () => 25, { cancel: { aborted: true } })).toThrow(CancelledError);
    expect(() => planPitchMove(sound, () => 60)).toThrow('cents is 60; allowed -50 to 50');
  });
});
