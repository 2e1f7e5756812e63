import { describe, expect, it } from 'vitest';
import { type Bend, type Clock, sessionSecOf } from '../../../core/signal/clock.ts';
import { PlacedSound } from '../../../core/signal/placed-sound.ts';
import { Random } from '../../../core/signal/random.ts';
import { sharpened } from '../../../core/signal/sharp-break.ts';
import { type Sound, soundOf } from '../../../core/signal/sound.ts';

const RATE = 48_000;
const SEED = 41;

/** A tone with five harmonics, as it was before anything was lost. */
function toneAt(sec: number, hz = 311.3): number {
  let sum = 0;
  for (let n = 1; n <= 5; n++) sum += Math.cos(2 * Math.PI * n * hz * sec + n * n) / n;
  return 0.2 * sum;
}

function recorded(lengthSec: number, at: (sec: number) => number, rateHz = RATE): Sound {
  return soundOf(
    Float32Array.from({ length: lengthSec * rateHz }, (_, n) => at(n / rateHz)),
    rateHz,
  );
}

/** A recording that lost `lostSec` at 1 s of it (negative: has it twice). */
function withJump(lostSec: number, at: (sec: number) => number = toneAt, rateHz = RATE): Sound {
  return recorded(2, (sec) => at(sec < 1 - 1e-9 ? sec : sec + lostSec), rateHz);
}

function read(sound: Sound, place: Clock, fromSec: number, toSec: number): Float32Array {
  const out = new Float32Array(Math.round((toSec - fromSec) * RATE));
  new PlacedSound(sound, { ...place, sessionRateHz: RATE }).read(Math.round(fromSec * RATE), out);
  return out;
}

function jump(jumpSec: number, driftPpm = 0): readonly Bend[] {
  return [{ takeSec: 1, jumpSec, driftPpm }];
}

/** Greatest second difference: of a tone it is even, a click stands out of it. */
function sharpest(samples: Float32Array, from: number, to: number): number {
  let most = 0;
  for (let n = from; n < to; n++) {
    most = Math.max(most, Math.abs(samples[n - 1]! - 2 * samples[n]! + samples[n + 1]!));
  }
  return most;
}

function levelDb(samples: Float32Array): number {
  return 10 * Math.log10(samples.reduce((sum, value) => sum + value * value, 0) / samples.length);
}

/** By how much a stretch of a result lies later than the tone it should be, s. */
function latenessSec(samples: Float32Array, fromSec: number, at: (sec: number) => number): number {
  let best = { lateSec: 0, error: Number.POSITIVE_INFINITY };
  for (let late = -10; late <= 10; late++) {
    const lateSec = late * 1e-5;
    let error = 0;
    for (let n = 0; n < samples.length; n++) error += (samples[n]! - at(fromSec + n / RATE - lateSec)) ** 2;
    if (error < best.error) best = { lateSec, error };
  }
  return best.lateSec;
}

describe('a placed recording whose clock jumps', () => {
  for (const [lostSec, rateHz] of [
    [0.02, 48_000],
    [0.02, 44_100],
    [0.05, 48_000],
    [0.001, 48_000],
    [-0.012, 48_000],
    [-0.2, 48_000],
  ] as const) {
    const what = `${Math.abs(lostSec) * 1000} ms ${lostSec > 0 ? 'lost' : 'twice'} at ${rateHz} Hz`;
    it(`${what}: both sides lie right within 0.05 ms, no click, the level between within 1.5 dB`, () => {
      const out = read(withJump(lostSec, toneAt, rateHz), { offsetSec: 0, driftPpm: 0, bends: jump(lostSec) }, 0, 2);
      const at = (sec: number): Float32Array => out.subarray(Math.round(sec * RATE), Math.round((sec + 0.2) * RATE));
      expect(Math.abs(latenessSec(at(0.5), 0.5, toneAt))).toBeLessThan(5e-5);
      expect(Math.abs(latenessSec(at(1.3), 1.3, toneAt))).toBeLessThan(5e-5);
      const usual = sharpest(out, 20_000, 40_000);
      // Twice in amplitude is 6 dB; a step of a tenth of the amplitude would be ten times.
      expect(sharpest(out, 42_000, 54_000) / usual).toBeLessThan(1.5);
      const [first, last] = [Math.round((1 - 0.01) * RATE), Math.round((1.01 + Math.max(0, lostSec)) * RATE)];
      for (let n = first; n < last; n += 240) {
        const step = levelDb(out.subarray(n, n + 480)) - levelDb(at(0.5));
        expect(Math.abs(step), `${n}`).toBeLessThan(1.5);
      }
    });
  }

  it('away from the seam its samples are those of the same clock without the jump, to the bit', () => {
    const take = withJump(0.02);
    for (const driftPpm of [0, 40]) {
      const out = read(take, { offsetSec: 0.1, driftPpm, bends: jump(0.02, driftPpm) }, 0, 2.2);
      const left = read(take, { offsetSec: 0.1, driftPpm }, 0, 2.2);
      const right = read(take, { offsetSec: 0.12, driftPpm }, 0, 2.2);
      const seam = sessionSecOf({ offsetSec: 0.1, driftPpm }, 1) * RATE;
      const to = Math.floor(seam) - 100;
      expect(out.subarray(0, to)).toEqual(left.subarray(0, to));
      const from = Math.ceil(seam + 0.02 * RATE) + 100;
      const off = out.subarray(from).map((value, n) => value - right[from + n]!);
      // With drift the place of a frame is computed from another origin, which rounds the last bit.
      if (driftPpm === 0) expect(out.subarray(from)).toEqual(right.subarray(from));
      else expect(Math.max(...off.map(Math.abs))).toBeLessThan(1e-6);
    }
  });

  it('what was lost of noise comes back at its level within 3 dB, and of a chord within 1.5 dB', () => {
    const random = new Random(SEED);
    const noise = recorded(2, () => 0.1 * random.gaussian());
    const chord = (sec: number): number => toneAt(sec, 220) + toneAt(sec, 277.18) + toneAt(sec, 329.63);
    for (const [take, limitDb] of [
      [noise, 3],
      [withJump(0.04, chord), 1.5],
    ] as const) {
      const out = read(take, { offsetSec: 0, driftPpm: 0, bends: jump(0.04) }, 0, 2);
      const gap = levelDb(out.subarray(RATE, 1.04 * RATE)) - levelDb(out.subarray(0.8 * RATE, RATE));
      expect(Math.abs(gap), `seed ${SEED}`).toBeLessThan(limitDb);
    }
  });

  it('a second that was lost fades to silence and back without a click', () => {
    const out = read(withJump(1), { offsetSec: 0, driftPpm: 0, bends: jump(1) }, 0, 3);
    expect(levelDb(out.subarray(1.03 * RATE, 1.97 * RATE))).toBe(Number.NEGATIVE_INFINITY);
    expect(sharpest(out, 30_000, 2.5 * RATE) / sharpest(out, 10_000, 30_000)).toBeLessThan(1.2);
    expect(Math.abs(latenessSec(out.subarray(2.1 * RATE, 2.3 * RATE), 2.1, toneAt))).toBeLessThan(5e-5);
  });
});

describe('a jump that is told some ms off the place where the recording breaks', () => {
  it('lies where it breaks: 20 ms lost of a tone in noise, told up to 8 ms off, leave no click', () => {
    const random = new Random(SEED);
    const take = withJump(0.02, (sec) => toneAt(sec) + 0.002 * random.gaussian());
    for (const offSec of [-0.008, -0.0011, 0.0007, 0.006]) {
      const bends = [{ takeSec: 1 + offSec, jumpSec: 0.02, driftPpm: 0 }];
      const out = read(take, { offsetSec: 0, driftPpm: 0, bends }, 0, 2);
      expect(sharpest(out, 46_000, 51_000) / sharpest(out, 20_000, 40_000), `${offSec}`).toBeLessThan(1.3);
      const gap = levelDb(out.subarray(RATE, 1.02 * RATE)) - levelDb(out.subarray(0.5 * RATE, 0.7 * RATE));
      expect(Math.abs(gap)).toBeLessThan(1.5);
    }
  });

  it('stays as it is told in a tone that goes on, and keeps what lies away from it to 1 ns', () => {
    const told = { offsetSec: 0.3, driftPpm: 80, bends: [{ takeSec: 1.0043, jumpSec: 0.02, driftPpm: -60 }] };
    expect(sharpened(told, recorded(2, toneAt))).toEqual(told);
    const random = new Random(SEED);
    const found = sharpened(
      told,
      withJump(0.02, (sec) => toneAt(sec) + 0.002 * random.gaussian()),
    );
    expect(found.bends![0]!.takeSec).toBe(1);
    for (const takeSec of [0.5, 0.99, 1.01, 1.5]) {
      expect(sessionSecOf(found, takeSec)).toBeCloseTo(sessionSecOf(told, takeSec), 9);
    }
  });
});

describe('a placed recording whose clock bends', () => {
  const bends = [
    { takeSec: 0.5, jumpSec: 0, driftPpm: 900 },
    { takeSec: 0.9, jumpSec: 0.015, driftPpm: 900 },
    { takeSec: 1.2, jumpSec: 0, driftPpm: -400 },
    { takeSec: 1.6, jumpSec: -0.03, driftPpm: 0 },
  ];
  const place = { offsetSec: -0.2, driftPpm: 100, bends };
  const take = recorded(2, toneAt);

  it('changes its speed without a click, and each place sounds when its clock says, within 0.01 ms', () => {
    const bent = { offsetSec: 0.1, driftPpm: 0, bends: [{ takeSec: 1, jumpSec: 0, driftPpm: 2000 }] };
    const out = read(take, bent, 0, 2.1);
    expect(sharpest(out, 50_000, 56_000) / sharpest(out, 30_000, 45_000)).toBeLessThan(1.01);
    let worst = 0;
    for (const [n, value] of out.subarray(10_000, 98_000).entries()) {
      const sec = (n + 10_000) / RATE - 0.1;
      const own = sec < 1 ? sec : 1 + (sec - 1) * 1.002;
      worst = Math.max(worst, Math.abs(value - toneAt(own)));
    }
    // 0.01 ms of the steepest slope of this tone is 0.02.
    expect(worst).toBeLessThan(1e-4);
  });

  it('gives the same frames however they are asked for', () => {
    const whole = new PlacedSound(take, { ...place, sessionRateHz: RATE });
    const all = new Float32Array(whole.lengthFrames + 100);
    whole.read(0, all);
    const random = new Random(SEED);
    for (let count = 0; count < 80; count++) {
      const placed = new PlacedSound(take, { ...place, sessionRateHz: RATE });
      const from = Math.floor(random.uniform() * (all.length - 4000));
      const part = new Float32Array(1 + Math.floor(random.uniform() * 4000));
      placed.read(from, part);
      expect(
        part.every((value, n) => value === all[from + n]),
        `seed ${SEED}, from ${from}`,
      ).toBe(true);
    }
  });

  it('begins and ends where its clock says', () => {
    const placed = new PlacedSound(take, { ...place, sessionRateHz: RATE });
    expect(placed.firstFrame).toBe(Math.ceil(-0.2 * RATE));
    expect(placed.lengthFrames).toBe(Math.ceil(sessionSecOf(place, 2) * RATE - 1e-6));
  });

  it('bends beyond its ends change nothing but its place', () => {
    const outside = [
      { takeSec: -1, jumpSec: 0.1, driftPpm: 0 },
      { takeSec: 5, jumpSec: 0.1, driftPpm: 0 },
    ];
    const bent = read(take, { offsetSec: 0, driftPpm: 0, bends: outside }, 0, 2.2);
    expect(bent).toEqual(read(take, { offsetSec: 0.1, driftPpm: 0 }, 0, 2.2));
  });

  it('stays finite and as loud at the most with 50 jumps in 1 s', () => {
    const random = new Random(SEED);
    const many = Array.from({ length: 50 }, (_, n) => ({
      takeSec: 0.5 + n * 0.02,
      jumpSec: 0.06 * (random.uniform() - 0.5),
      driftPpm: 2000 * (random.uniform() - 0.5),
    }));
    const out = read(take, { offsetSec: 0, driftPpm: 0, bends: many }, -0.5, 3);
    expect(out.every(Number.isFinite)).toBe(true);
    expect(
      out.reduce((most, value) => Math.max(most, Math.abs(value)), 0),
      `seed ${SEED}`,
    ).toBeLessThan(1.2);
  });
});
