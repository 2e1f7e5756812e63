import { describe, expect, it } from 'vitest';
import { isExpected, silenceWithin } from '../../../core/noise/expected-silence.ts';
import { planCleaning, studyTake } from '../../../core/noise/noise.ts';
import { settingsOf } from '../../../core/noise/settings.ts';
import { Random } from '../../../core/signal/random.ts';
import type { Sound } from '../../../core/signal/sound.ts';

const RATE_HZ = 48000;
const at = (sec: number): number => Math.round(sec * RATE_HZ);

/** 24 s: 3 s of room, 8 s of tones, 3 s of room 4 dB louder, tones to the end. */
function take(restless = false): Sound {
  const random = new Random(11);
  const samples = new Float32Array(at(24));
  for (let n = 0; n < samples.length; n++) {
    const sec = n / RATE_HZ;
    const isSecond = sec >= 11 && sec < 14;
    samples[n] = (isSecond ? 0.0016 : 0.001) * random.gaussian();
    if ((sec >= 3 && sec < 11) || sec >= 14) {
      const beat = (sec * 2) % 1;
      samples[n]! += 0.2 * Math.exp(-3 * beat) * Math.sin(2 * Math.PI * 330 * sec);
    }
    if (restless && isSecond) samples[n]! += 0.05 * Math.sin(2 * Math.PI * 9 * sec) ** 8 * random.gaussian();
  }
  return {
    rateHz: RATE_HZ,
    lengthFrames: samples.length,
    read: (from, target) => {
      for (let n = 0; n < target.length; n++) target[n] = samples[from + n] ?? 0;
    },
  };
}

const second = { fromFrame: at(11), toFrame: at(14) };

describe('a silence where the guide has it', () => {
  it('is learnt from before a quieter one elsewhere, up to 6 dB', () => {
    const sound = take();
    const study = studyTake(sound);
    expect(isExpected(study.search, second)).toBe(false);
    expect(isExpected(study.search, { fromFrame: 0, toFrame: at(3) })).toBe(true);
    const plan = planCleaning(sound, settingsOf('even', 'lsa'), { study, hint: second });
    expect(plan.kind === 'clean' && plan.how).toBe('guide');
    const [first] = plan.kind === 'clean' ? plan.silences : [];
    expect(first!.fromFrame).toBeGreaterThanOrEqual(second.fromFrame);
    expect(first!.toFrame).toBeLessThanOrEqual(second.toFrame);
    expect(first!.toFrame - first!.fromFrame).toBeGreaterThan(at(2));
  });

  it('is left for the one found by itself where the player was not still', () => {
    const sound = take(true);
    const study = studyTake(sound);
    expect(silenceWithin(sound, second, study.search)).toBeUndefined();
    const plan = planCleaning(sound, settingsOf('even', 'lsa'), { study, hint: second });
    expect(plan.kind === 'clean' && plan.how).toBe('found');
  });

  it('may reach beyond the take, or lie outside it', () => {
    const sound = take();
    const { search } = studyTake(sound);
    expect(silenceWithin(sound, { fromFrame: -at(9), toFrame: at(3) }, search)?.fromFrame).toBeGreaterThanOrEqual(0);
    expect(silenceWithin(sound, { fromFrame: -at(9), toFrame: -at(3) }, search)).toBeUndefined();
    expect(silenceWithin(sound, { fromFrame: at(30), toFrame: at(33) }, search)).toBeUndefined();
  });
});
