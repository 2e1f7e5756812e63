import { Random } from '../../../core/signal/random.ts';

/** A take made in code: music and noise apart, and where nobody plays. */
export interface MadeTake {
  readonly rateHz: number;
  readonly music: Float32Array;
  readonly noise: Float32Array;
  readonly take: Float32Array;
  /** Frames. */
  readonly musicFrom: number;
  readonly musicTo: number;
}

/** Coloured noise (first order below `cornerHz`), of this mean level (a full-scale sine is 0 dBFS). */
export function colouredNoise(frames: number, rateHz: number, levelDbfs: number, seed: number, cornerHz = 800) {
  const random = new Random(seed);
  const noise = new Float32Array(frames);
  const pole = Math.exp((-2 * Math.PI * cornerHz) / rateHz);
  let state = 0;
  let power = 0;
  for (let n = 0; n < frames; n++) {
    const white = random.gaussian();
    state = pole * state + (1 - pole) * white;
    noise[n] = state + 0.02 * white;
    power += noise[n]! ** 2 / frames;
  }
  const scale = Math.sqrt(10 ** (levelDbfs / 10) / 2 / power);
  for (let n = 0; n < frames; n++) noise[n]! *= scale;
  return noise;
}

/** Adds a plucked or bowed harmonic tone: attack 5 ms, decay time constant in seconds. */
export function addTone(
  to: Float32Array,
  rateHz: number,
  tone: { atSec: number; lengthSec: number; hz: number; amplitude: number; decaySec: number; partials?: number },
): void {
  const from = Math.round(tone.atSec * rateHz);
  const end = Math.min(to.length, from + Math.round(tone.lengthSec * rateHz));
  for (let n = from; n < end; n++) {
    const t = (n - from) / rateHz;
    const left = (end - n) / rateHz;
    const shape = Math.min(1, t / 0.005) * Math.exp(-t / tone.decaySec) * Math.min(1, left / 0.03);
    let sum = 0;
    for (let p = 1; p <= (tone.partials ?? 6) && p * tone.hz < 0.45 * rateHz; p++) {
      sum += Math.sin(2 * Math.PI * p * tone.hz * t) / p ** 1.3;
    }
    to[n]! += tone.amplitude * shape * sum;
  }
}

const MELODY_HZ = [220, 246.9, 277.2, 329.6, 293.7, 220, 370, 329.6];

/** 2.5 s of room, 4 s of melody (a note each half second), 2 s of room. */
export function makeTake(options: { rateHz?: number; seed: number; noiseDbfs?: number; hum?: boolean }): MadeTake {
  const rateHz = options.rateHz ?? 24000;
  const frames = Math.round(8.5 * rateHz);
  const music = new Float32Array(frames);
  for (const [n, hz] of MELODY_HZ.entries()) {
    addTone(music, rateHz, { atSec: 2.5 + 0.5 * n, lengthSec: 0.5, hz, amplitude: 0.12, decaySec: 0.5 });
  }
  const noise = colouredNoise(frames, rateHz, options.noiseDbfs ?? -45, options.seed);
  if (options.hum === true) {
    for (let n = 0; n < frames; n++) {
      for (const [order, amplitude] of [0.004, 0.003, 0.004, 0.002, 0.002].entries()) {
        noise[n]! += amplitude * Math.sin((2 * Math.PI * 50.02 * (order + 1) * n) / rateHz + order);
      }
    }
  }
  const take = music.map((sample, n) => sample + noise[n]!);
  return { rateHz, music, noise, take, musicFrom: 2.5 * rateHz, musicTo: 6.5 * rateHz };
}

/** Mean square of a stretch, dB re 1. */
export function powerDb(samples: Float32Array, from = 0, to = samples.length): number {
  let sum = 0;
  for (let n = from; n < to; n++) sum += samples[n]! ** 2;
  return 10 * Math.log10(sum / (to - from));
}

/** Scale-invariant ratio of signal to distortion, dB (Le Roux et al. 2019). */
export function siSdrDb(got: Float32Array, wanted: Float32Array, from = 0, to = wanted.length): number {
  let dot = 0;
  let power = 0;
  for (let n = from; n < to; n++) {
    dot += got[n]! * wanted[n]!;
    power += wanted[n]! ** 2;
  }
  const scale = dot / power;
  let error = 0;
  for (let n = from; n < to; n++) error += (got[n]! - scale * wanted[n]!) ** 2;
  return 10 * Math.log10((scale * scale * power) / error);
}

/** Power at one frequency by a Hann-windowed correlation, dB. */
export function toneDb(samples: Float32Array, rateHz: number, hz: number, from: number, to: number): number {
  let re = 0;
  let im = 0;
  let weight = 0;
  for (let n = from; n < to; n++) {
    const window = 0.5 - 0.5 * Math.cos((2 * Math.PI * (n - from + 0.5)) / (to - from));
    re += window * samples[n]! * Math.cos((2 * Math.PI * hz * n) / rateHz);
    im += window * samples[n]! * Math.sin((2 * Math.PI * hz * n) / rateHz);
    weight += window;
  }
  return 10 * Math.log10((4 * (re * re + im * im)) / (weight * weight) + 1e-30);
}
