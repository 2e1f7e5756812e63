import { describe, expect, it } from 'vitest';
import { checkSound } from '../../../core/guide/check-sound.ts';
import type { CheckCode, SoundCheck } from '../../../core/guide/sound-check.ts';
import { listenTo } from '../../../core/lineup/take-listener.ts';
import type { FoldReason } from '../../../core/signal/fold.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { addTone, colouredNoise } from '../noise/take-signals.ts';

const RATE = 24000;
const CLAP_SEC = 4.5;
const MUSIC_SEC = 6.5;
const LENGTH_SEC = 16;

interface Recipe {
  readonly seed: number;
  readonly noiseDbfs?: number;
  readonly musicGain?: number;
  readonly clap?: boolean;
  readonly echoSec?: number;
  /** Seconds of room before anything sounds; the music begins at once where it is 0. */
  readonly silence?: boolean;
}

/** A trial take: room, clap, a melody with rests, room. Invented, from the seed. */
function trial(recipe: Recipe): Float32Array {
  const { seed, noiseDbfs = -58, musicGain = 1, clap = true, echoSec = 0.4, silence = true } = recipe;
  const frames = LENGTH_SEC * RATE;
  const take = new Float32Array(frames);
  const from = silence ? MUSIC_SEC : 0.1;
  const notes = [220, 246.9, 277.2, 329.6, 0, 293.7, 220, 370, 329.6, 0];
  for (let at = from, n = 0; at < (silence ? LENGTH_SEC - 2.5 : LENGTH_SEC - 0.6); at += 0.5, n++) {
    const hz = notes[n % notes.length]!;
    // Without a silence there are no rests to learn the room from either.
    const played = hz === 0 && !silence ? 415 : hz;
    if (played > 0)
      addTone(take, RATE, { atSec: at, lengthSec: 0.55, hz: played, amplitude: 0.12 * musicGain, decaySec: 1.5 });
  }
  if (clap && silence) addClap(take, seed, echoSec);
  const noise = colouredNoise(frames, RATE, noiseDbfs, seed);
  return take.map((sample, n) => sample + noise[n]!);
}

function addClap(take: Float32Array, seed: number, echoSec: number): void {
  const random = new Random(seed + 1);
  const first = CLAP_SEC * RATE;
  for (let n = 0; n < 1.9 * RATE; n++) {
    const sec = n / RATE;
    const direct = 0.5 * Math.min(1, sec / 0.001) * Math.exp(-sec / 0.006);
    const echo = sec < 0.004 ? 0 : 0.12 * 10 ** ((-3 * sec) / echoSec);
    take[first + n]! += (direct + echo) * random.gaussian();
  }
}

function check(samples: Float32Array, fold: FoldReason = 'mono', knocks: readonly number[] = []): SoundCheck {
  return checkSound(soundOf(samples, RATE), { fold, guideKnocksSec: knocks });
}

const codes = (found: SoundCheck): CheckCode[] => found.findings.map((one) => one.code);
const mean = (samples: Float32Array, fromSec: number, toSec: number): number => {
  const part = samples.subarray(fromSec * RATE, toSec * RATE);
  return part.reduce((sum, one) => sum + one * one, 0) / part.length;
};

describe('the sound check', () => {
  it.each([1, 2, 3, 4])('blames no healthy take (seed %i)', (seed) => {
    const found = check(trial({ seed, noiseDbfs: -66 + 4 * seed }));
    expect(found.findings).toEqual([]);
    expect(found.ready).toBe(true);
    expect(found.figures.clapSec).toBeCloseTo(CLAP_SEC, 1);
  });

  it('says the same of levels that line-up heard before, as of those it hears itself', () => {
    const sound = soundOf(trial({ seed: 2 }), RATE);
    const options = { fold: 'mono', guideKnocksSec: [] } as const;
    expect(checkSound(sound, { ...options, levels: listenTo(sound) })).toEqual(checkSound(sound, options));
  });

  it('measures noise and music to 1.5 dB', () => {
    const samples = trial({ seed: 5, noiseDbfs: -55 });
    const { noiseDbfs, snrDb } = check(samples).figures;
    expect(Math.abs(noiseDbfs! - -55)).toBeLessThan(1.5);
    expect(snrDb).toBeGreaterThan(30);
  });

  it('names clipping, and asks for the take again', () => {
    const samples = trial({ seed: 6, musicGain: 6 }).map((one) => Math.max(-0.8, Math.min(0.8, one)));
    const found = check(samples);
    expect(found.findings[0]).toMatchObject({ code: 'clipped', weight: 'again' });
    expect(found.verdict).toMatch(/Not yet/);
  });

  it('forgives a clap that is clipped', () => {
    const samples = trial({ seed: 7 });
    const first = CLAP_SEC * RATE;
    for (let n = first; n < first + 0.2 * RATE; n++) samples[n] = Math.max(-0.4, Math.min(0.4, 4 * samples[n]!));
    expect(codes(check(samples))).not.toContain('clipped');
  });

  it('names a take that is too quiet and one buried in noise', () => {
    expect(codes(check(trial({ seed: 8, musicGain: 0.03, noiseDbfs: -78 })))).toContain('tooQuiet');
    expect(check(trial({ seed: 9, noiseDbfs: -28 })).findings.find((one) => one.code === 'noisy')).toBeDefined();
  });

  it('names a missing clap and a missing silence', () => {
    expect(codes(check(trial({ seed: 10, clap: false })))).toContain('noClap');
    expect(codes(check(trial({ seed: 11, silence: false })))).toContain('noSilence');
  });

  it('names mains hum at 50 and 60 Hz, and a whistle at 7.8 kHz', () => {
    for (const mains of [50, 60]) {
      const samples = trial({ seed: 12 }).map((one, n) => {
        const x = (2 * Math.PI * mains * n) / RATE;
        return (
          one + 0.004 * (Math.sin(x) + 0.7 * Math.sin(2 * x + 1) + 0.8 * Math.sin(3 * x + 2) + 0.4 * Math.sin(5 * x))
        );
      });
      const found = check(samples);
      expect(codes(found)).toContain('hum');
      expect(Math.abs(found.figures.humHz! - mains)).toBeLessThan(0.3);
    }
    const whistling = trial({ seed: 13 }).map((one, n) => one + 0.002 * Math.sin((2 * Math.PI * 7812 * n) / RATE));
    expect(codes(check(whistling))).toContain('whistle');
  });

  it('calls a steady tone at 93 Hz a hum, one at 222 Hz beside that of the mains too, and one at 310 Hz a whistle', () => {
    const tone = (hz: number, gain: number, n: number): number => gain * Math.sin((2 * Math.PI * hz * n) / RATE);
    const motor = check(trial({ seed: 15 }).map((one, n) => one + tone(93, 0.004, n)));
    expect(codes(motor)).toContain('hum');
    expect(codes(motor)).not.toContain('whistle');
    expect(motor.findings.find(({ code }) => code === 'hum')!.what).toContain('a steady low tone at 93 Hz');
    const mains = (n: number): number =>
      tone(50, 0.004, n) + tone(100, 0.003, n) + tone(150, 0.003, n) + tone(250, 0.002, n);
    const both = check(trial({ seed: 15 }).map((one, n) => one + mains(n) + tone(222, 0.004, n)));
    expect(codes(both)).not.toContain('whistle');
    expect(both.findings.find(({ code }) => code === 'hum')!.what).toMatch(
      /^There is mains hum at 50\.0 Hz, and a steady low tone at 222 Hz/,
    );
    expect(codes(check(trial({ seed: 15 }).map((one, n) => one + tone(310, 0.004, n))))).toContain('whistle');
  });

  it('names wind and handling below 35 Hz', () => {
    const random = new Random(14);
    let drift = 0;
    const samples = trial({ seed: 14 }).map((one, n) => {
      drift = 0.9995 * drift + 0.02 * random.gaussian();
      const gust = Math.max(0, Math.sin((2 * Math.PI * n) / (5 * RATE)));
      return one + 0.12 * gust * drift;
    });
    expect(codes(check(samples))).toContain('rumble');
  });

  it('reads the echo of a room within a fifth: 0.5 s, 1 s; and names one of 2 s', () => {
    for (const echoSec of [0.5, 1]) {
      const found = check(trial({ seed: 15, echoSec, noiseDbfs: -65 }));
      expect(Math.abs(found.figures.echoSec! - echoSec)).toBeLessThan(0.2 * echoSec);
      expect(codes(found)).not.toContain('echo');
    }
    expect(codes(check(trial({ seed: 16, echoSec: 2, noiseDbfs: -65 })))).toContain('echo');
  });

  it("names a phone's automatic gain (attack 20 ms, release 4 s) and a muting gate", () => {
    const samples = trial({ seed: 17, noiseDbfs: -50 });
    let level = 0;
    const pumped = samples.map((one) => {
      const now = Math.abs(one);
      level += (now > level ? 1 / (0.02 * RATE) : 1 / (4 * RATE)) * (now - level);
      return Math.max(-1, Math.min(1, one * Math.min(6, 0.06 / (level + 0.002))));
    });
    expect(codes(check(pumped))).toContain('pumping');
    const gated = samples.map((one, n) => (n > 8.5 * RATE && n < 9 * RATE ? 0 : one));
    expect(codes(check(gated))).toContain('gated');
  });

  it('names a dead channel and one upside down as the fold tells', () => {
    expect(codes(check(trial({ seed: 18 }), 'dead'))).toEqual(['deadChannel']);
    expect(codes(check(trial({ seed: 18 }), 'opposite'))).toEqual(['turnedChannel']);
  });

  it('names a guide that the phone hears 30 dB under the music, and not one that it hears 50 dB under it', () => {
    const knocks = [4.9, 5.1, 5.3, 5.5, 5.7, 5.9, 6.1, 6.3];
    const heard = (underDb: number): SoundCheck => {
      const samples = trial({ seed: 19, clap: false, noiseDbfs: -75 });
      const music = Math.sqrt(mean(samples, 8, 8.4));
      for (const sec of knocks) {
        for (let n = 0; n < 0.08 * RATE; n++) {
          const shape = 10 ** ((-3 * n) / (0.09 * RATE)) * Math.min(1, n / 24);
          samples[Math.round(sec * RATE) + n]! +=
            4 * music * 10 ** (-underDb / 20) * shape * Math.sin((2 * Math.PI * 1174 * n) / RATE);
        }
      }
      return check(samples, 'mono', knocks);
    };
    expect(codes(heard(30))).toContain('bleed');
    expect(codes(heard(50))).not.toContain('bleed');
  });
});
