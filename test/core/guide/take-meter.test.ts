import { describe, expect, it } from 'vitest';
import { CheckMeter } from '../../../core/guide/check-meter.ts';
import { TakeMeter } from '../../../core/guide/take-meter.ts';
import { LoudnessMeter } from '../../../core/loudness/loudness.ts';
import { Random } from '../../../core/signal/random.ts';

const SEED = 4711;

/** Notes under noise, a second of digital silence in which filters die away, and an end between two steps. */
function makeSound(rateHz: number, sec = 4.037): Float32Array {
  const random = new Random(SEED);
  return Float32Array.from({ length: Math.round(sec * rateHz) }, (_, n) => {
    const at = n / rateHz;
    if (at > 2 && at < 3) return 0;
    const note = at > 1 ? 0.7 * Math.sin(2 * Math.PI * 440 * at) * Math.exp(-3 * (at % 0.5)) : 0;
    return note + 0.001 * random.gaussian();
  });
}

/** What is told of a sound, in pieces of so many samples, and whether the greatest magnitude of each was. */
function tell(meter: TakeMeter, sound: Float32Array, piece: number): unknown {
  let wrong = 0;
  let most = 0;
  for (let from = 0; from < sound.length; from += piece) {
    const part = sound.subarray(from, from + piece);
    let greatest = 0;
    for (let n = 0; n < part.length; n++) greatest = Math.max(greatest, Math.abs(part[n]!));
    meter.room.set(part);
    if (meter.add(part.length) !== greatest) wrong++;
    most = Math.max(most, greatest);
  }
  expect(most).toBeGreaterThan(0.5);
  return { wrong, curves: meter.curves(), loudness: meter.loudness() };
}

describe('TakeMeter', () => {
  for (const rateHz of [48000, 44100, 22050, 11025, 8000]) {
    it(`tells the levels of a CheckMeter and the loudness of a LoudnessMeter, to the last bit, at ${rateHz} Hz (seed ${SEED})`, () => {
      const sound = makeSound(rateHz);
      const check = new CheckMeter(rateHz);
      check.add(sound);
      const { stepSec, power, peak } = check.result();
      const loudness = new LoudnessMeter({ rateHz, channels: 1, curves: true, truePeak: 'off' });
      loudness.add([sound]);
      const { integratedLufs, curves } = loudness.result();
      const told = {
        wrong: 0,
        curves: { stepSec, power, peak },
        loudness: { integratedLufs, momentaryLufs: curves!.momentaryLufs },
      };
      expect(power.length).toBe(Math.floor(sound.length / Math.round(rateHz / 20)));
      expect(integratedLufs).toBeGreaterThan(-40);
      for (const engine of ['kernel', 'plain'] as const) {
        for (const piece of [65536, 4800, 777, 1]) {
          const part = piece === 1 ? sound.subarray(rateHz, 1.5 * rateHz) : sound;
          const whole = piece === 1 ? tell(new TakeMeter(rateHz, engine), part, 65536) : told;
          expect(tell(new TakeMeter(rateHz, engine), part, piece), `${engine}, pieces of ${piece}`).toEqual(whole);
        }
      }
    });
  }

  it('tells of 230 s what it tells in pieces, as its lists grow', () => {
    const sound = makeSound(8000, 230);
    const whole = tell(new TakeMeter(8000), sound, 65536);
    expect(tell(new TakeMeter(8000), sound, 333)).toEqual(whole);
    expect(tell(new TakeMeter(8000, 'plain'), sound, 65536)).toEqual(whole);
  });

  it('tells silence and sound shorter than a step as a LoudnessMeter does', () => {
    for (const length of [0, 100, 4800, 48000]) {
      const meter = new TakeMeter(48000);
      meter.room.fill(0, 0, length);
      expect(meter.add(length)).toBe(0);
      const loudness = new LoudnessMeter({ rateHz: 48000, channels: 1, curves: true, truePeak: 'off' });
      loudness.add([new Float32Array(length)]);
      const { integratedLufs, curves } = loudness.result();
      expect(meter.loudness()).toEqual({ integratedLufs, momentaryLufs: curves!.momentaryLufs });
      expect(meter.curves().power.length).toBe(Math.floor(length / 2400));
    }
  });

  it('names the tenth of a second that holds a number that is not finite', () => {
    const meter = new TakeMeter(48000);
    meter.room.fill(0);
    meter.room[5000] = Number.NaN;
    meter.add(48000);
    expect(() => meter.loudness()).toThrow(/after 0.1 s/);
  });

  it('tells levels alone at a rate at which loudness is not measured', () => {
    const meter = new TakeMeter(4000);
    const sound = makeSound(4000);
    meter.room.set(sound.subarray(0, 30000));
    meter.add(30000);
    expect(meter.loudness()).toBeUndefined();
    expect(meter.curves().power.length).toBe(150);
  });
});
