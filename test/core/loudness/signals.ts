import { LoudnessMeter, type LoudnessOptions, type LoudnessReport } from '../../../core/loudness/loudness.ts';
import { Random } from '../../../core/signal/random.ts';

/** A stretch of tone: seconds, peak level in dBFS (-Infinity for silence). */
export type Stretch = readonly [sec: number, levelDbfs: number];

/** Stretches of a sine one after the other, the phase starting anew with each. */
export function toneOf(stretches: readonly Stretch[], rateHz = 48000, toneHz = 1000): Float32Array {
  const lengths = stretches.map(([sec]) => Math.round(sec * rateHz));
  const samples = new Float32Array(lengths.reduce((sum, length) => sum + length, 0));
  let at = 0;
  stretches.forEach(([, levelDbfs], index) => {
    const amplitude = 10 ** (levelDbfs / 20);
    for (let n = 0; amplitude > 0 && n < lengths[index]!; n++) {
      samples[at + n] = amplitude * Math.sin((2 * Math.PI * toneHz * n) / rateHz);
    }
    at += lengths[index]!;
  });
  return samples;
}

/** Measures channels that lie in memory, in blocks of blockFrames. */
export function measure(
  channels: readonly Float32Array[],
  options: Partial<LoudnessOptions> = {},
  blockFrames = 4096,
): LoudnessReport {
  const meter = new LoudnessMeter({ rateHz: 48000, channels: channels.length, ...options });
  const length = channels[0]!.length;
  for (let from = 0; from < length; from += blockFrames) {
    meter.add(channels.map((channel) => channel.subarray(from, Math.min(length, from + blockFrames))));
  }
  return meter.result();
}

/** The same samples on both channels, loudness only. */
export function measureBoth(samples: Float32Array, options: Partial<LoudnessOptions> = {}): LoudnessReport {
  return measure([samples, samples], { truePeak: 'off', ...options });
}

/** White Gaussian noise. */
export function noiseOf(frames: number, rms: number, seed: number): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length: frames }, () => rms * random.gaussian());
}

/**
 * Something like a melody: notes of six harmonics with attack, decay and a level of their own, some rests, a little
 * noise. Peaks reach about -3 dBFS.
 */
export function melodyOf(sec: number, rateHz: number, seed: number): Float32Array {
  const random = new Random(seed);
  const samples = new Float32Array(Math.round(sec * rateHz));
  let at = 0;
  while (at < samples.length) {
    const length = Math.round((0.15 + 0.6 * random.uniform()) * rateHz);
    const level = random.uniform() < 0.15 ? 0 : 10 ** ((-30 * random.uniform() ** 2 - 9) / 20);
    const pitchHz = 110 * 2 ** (Math.floor(36 * random.uniform()) / 12);
    const phases = Array.from({ length: 6 }, () => 2 * Math.PI * random.uniform());
    for (let n = 0; n < length && at + n < samples.length; n++) {
      const envelope = Math.min(1, n / (0.01 * rateHz)) * Math.exp((-3 * n) / length);
      let sum = 0;
      phases.forEach((phase, k) => {
        sum += Math.sin((2 * Math.PI * pitchHz * (k + 1) * n) / rateHz + phase) / (k + 1);
      });
      samples[at + n] = level * envelope * sum;
    }
    at += length;
  }
  for (let n = 0; n < samples.length; n++) samples[n] = samples[n]! + 0.001 * random.gaussian();
  return samples;
}

/** A sine with raised-cosine fades of fadeSec at both ends; frequency as a fraction of the sample rate. */
export function fadedSine(
  frames: number,
  perFrame: number,
  amplitude: number,
  phaseDeg: number,
  fadeFrames: number,
): Float32Array {
  return Float32Array.from({ length: frames }, (_, n) => {
    const edge = Math.min(1, (n + 1) / fadeFrames, (frames - n) / fadeFrames);
    const fade = 0.5 - 0.5 * Math.cos(Math.PI * edge);
    return fade * amplitude * Math.sin(2 * Math.PI * perFrame * n + (phaseDeg * Math.PI) / 180);
  });
}
