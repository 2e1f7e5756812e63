import { describe, expect, it } from 'vitest';
import { RealFft } from '../../core/signal/fft.ts';
import { makeWindow } from '../../core/signal/window.ts';
import { filterInPlace, lowPass } from '../../samples/filter.ts';
import { play } from '../../samples/instruments.ts';
import { makeNoise, type NoiseKind } from '../../samples/noise.ts';
import { recordOnClock } from '../../samples/phone.ts';
import { PLANS, SITTING_ROOM } from '../../samples/plans.ts';
import { convolve, roomResponse } from '../../samples/room.ts';
import { beatToSec, type InstrumentName, PARTS, perform, TOTAL_BEATS } from '../../samples/score.ts';

const RATE_HZ = 48000;

function note(midi: number) {
  return { startSec: 0.05, lengthSec: 0.8, midi, cents: 0, loudnessRatio: 1 };
}

/** Power per bin of the middle of a sound. */
function spectrum(sound: Float64Array): Float64Array {
  const fft = new RealFft(32768);
  const window = makeWindow('blackmanHarris', fft.size);
  const [re, im] = [new Float64Array(fft.bins), new Float64Array(fft.bins)];
  fft.forward(
    window.map((w, i) => w * (sound[i + 4800] ?? 0)),
    re,
    im,
  );
  return re.map((x, k) => x * x + im[k]! ** 2);
}

function powerBetween(power: Float64Array, fromHz: number, toHz: number): number {
  const bin = RATE_HZ / (2 * (power.length - 1));
  return power.slice(Math.ceil(fromHz / bin), Math.floor(toHz / bin)).reduce((sum, x) => sum + x, 0);
}

describe('the canon', () => {
  it('sounds only notes of the harmony on every beat, F, D minor, G minor and C in turn', () => {
    const harmonies = [
      [5, 9, 0],
      [2, 5, 9],
      [7, 10, 2],
      [0, 4, 7],
    ];
    // The second half of a harmony may hold passing notes; its first beat may not.
    const strange: string[] = [];
    for (let beat = 0; beat <= TOTAL_BEATS - 4; beat += 2) {
      const harmony = harmonies[(beat / 2) % 4]!;
      for (const part of PARTS) {
        const sounding = part.notes.find((each) => each.beat <= beat && beat < each.beat + each.lengthBeats);
        if (sounding && !harmony.includes(sounding.midi % 12)) strange.push(`${part.name} ${sounding.midi} at ${beat}`);
      }
    }
    expect(strange).toEqual([]);
  });

  it('stays in the range of each instrument', () => {
    const ranges: Record<InstrumentName, readonly [number, number]> = {
      descantRecorder: [72, 98],
      tenorRecorder: [60, 86],
      trebleViol: [50, 86],
      bassViol: [38, 74],
    };
    for (const { instrument, notes } of PARTS) {
      for (const { midi } of notes) {
        expect(midi).toBeGreaterThanOrEqual(ranges[instrument][0]);
        expect(midi).toBeLessThanOrEqual(ranges[instrument][1]);
      }
    }
  });

  it('lasts 25 to 32 s', () => {
    expect(beatToSec(TOTAL_BEATS) - beatToSec(0)).toBeGreaterThan(25);
    expect(beatToSec(TOTAL_BEATS) - beatToSec(0)).toBeLessThan(32);
  });

  it('is played with onsets that scatter by 12 to 26 ms, the same for the same seed', () => {
    for (const { part, freedom, seed } of PLANS) {
      const played = perform(part, freedom, seed);
      expect(perform(part, freedom, seed)).toEqual(played);
      const late = played.map((each, i) => each.startSec + freedom.aheadSec - beatToSec(part.notes[i]!.beat));
      const scatterSec = Math.sqrt(late.reduce((sum, x) => sum + x * x, 0) / late.length);
      expect(scatterSec).toBeGreaterThan(0.012);
      expect(scatterSec).toBeLessThan(0.026);
    }
  });
});

describe('the instruments', () => {
  const highest: readonly (readonly [InstrumentName, number])[] = [
    ['descantRecorder', 89],
    ['tenorRecorder', 77],
    ['trebleViol', 77],
    ['bassViol', 53],
  ];

  it.each(highest)('%s is band-limited: above 16 kHz less than -60 dB of it', (instrument, midi) => {
    const power = spectrum(play(instrument, [note(midi)], RATE_HZ, 7));
    const aboveDb = 10 * Math.log10(powerBetween(power, 16000, 24000) / powerBetween(power, 20, 24000));
    expect(aboveDb).toBeLessThan(-60);
  });

  it.each(highest)('%s sounds at its pitch within 4 cents (it wanders by some 2)', (instrument, midi) => {
    const power = spectrum(play(instrument, [note(midi)], RATE_HZ, 7));
    const pitchHz = 440 * 2 ** ((midi - 69) / 12);
    const bin = RATE_HZ / 32768;
    let moment = 0;
    let sum = 0;
    for (let k = Math.round((pitchHz * 0.97) / bin); k <= Math.round((pitchHz * 1.03) / bin); k++) {
      moment += k * bin * power[k]!;
      sum += power[k]!;
    }
    expect(Math.abs(1200 * Math.log2(moment / sum / pitchHz))).toBeLessThan(4);
  });

  it('play the same samples for the same seed, and others for another', () => {
    const render = (seed: number) => play('trebleViol', [note(74)], RATE_HZ / 2, seed);
    expect(render(5)).toEqual(render(5));
    expect(render(6)).not.toEqual(render(5));
  });

  it('play what they played when the sample was made, to 1e-6 (sines differ in their last digit between machines)', () => {
    const strength = highest.map(([instrument, midi]) =>
      play(instrument, [note(midi)], RATE_HZ, 7).reduce((sum, x) => sum + Math.abs(x), 0),
    );
    for (const [i, made] of [7661.3259135, 10788.6803407, 10422.5941097, 14898.3542398].entries()) {
      expect(Math.abs(strength[i]! / made - 1)).toBeLessThan(1e-6);
    }
  });
});

describe('the room', () => {
  it('decays with the stated T60 within 8 % (Schroeder integration, -5 to -30 dB, below 1.5 kHz)', () => {
    for (const { room } of PLANS) {
      const response = roomResponse(room, RATE_HZ);
      filterInPlace(response, lowPass(1500, RATE_HZ));
      const left = response.slice();
      for (let i = left.length - 1, sum = 0; i >= 0; i--) {
        sum += response[i]! ** 2;
        left[i] = sum;
      }
      const whenDown = (db: number) => left.findIndex((x) => 10 * Math.log10(x / left[0]!) < db) / RATE_HZ;
      // The direct sound stands in front of the decay, so the slope begins after it.
      const start = 10 * Math.log10(left[Math.round(0.03 * RATE_HZ)]! / left[0]!);
      const t60Sec = (60 / 25) * (whenDown(start - 30) - whenDown(start - 5));
      expect(Math.abs(t60Sec / room.t60Sec - 1), `seed ${room.seed}`).toBeLessThan(0.08);
    }
  });

  it('passes a click on as its response', () => {
    const response = roomResponse(SITTING_ROOM, RATE_HZ);
    const click = new Float64Array(RATE_HZ);
    click[1000] = 1;
    const heard = convolve(click, response);
    let worst = 0;
    for (let i = 0; i < response.length; i++) worst = Math.max(worst, Math.abs(heard[i + 1000]! - response[i]!));
    expect(worst).toBeLessThan(1e-9);
  });
});

describe('the telephone', () => {
  it('keeps a 3 kHz tone to 80 dB on a clock that is 200 ppm fast, at 44.1 kHz', () => {
    const tone = Float64Array.from({ length: RATE_HZ }, (_, i) => Math.sin((2 * Math.PI * 3000 * i) / RATE_HZ));
    const clock = { rateHz: 44100, startSec: 0.1234567, driftPpm: 200 };
    const heard = recordOnClock(tone, RATE_HZ, clock, 22050);
    let wrong = 0;
    for (let n = 0; n < heard.length; n++) {
      const sec = clock.startSec + n / (44100 * 1.0002);
      wrong += (heard[n]! - Math.sin(2 * Math.PI * 3000 * sec)) ** 2;
    }
    expect(10 * Math.log10(wrong / (0.5 * heard.length))).toBeLessThan(-80);
  });
});

describe('the noises', () => {
  it.each<NoiseKind>(['air', 'fan', 'hum', 'whine'])(
    '%s is the same for the same seed and falls with frequency',
    (kind) => {
      const noise = makeNoise(kind, RATE_HZ, RATE_HZ, 9);
      expect(makeNoise(kind, RATE_HZ, RATE_HZ, 9)).toEqual(noise);
      const power = spectrum(noise);
      expect(powerBetween(power, 100, 1000)).toBeGreaterThan(4 * powerBetween(power, 10000, 20000));
    },
  );
});
