import { type BiquadCoefficients, designBiquad } from '../core/signal/biquad.ts';

/** A second-order section to run over a Float64Array. */
export type Section = BiquadCoefficients;

/** Low pass of 12 dB an octave (Butterworth). */
export function lowPass(hz: number, rateHz: number): Section {
  return designBiquad({ kind: 'lowPass', hz, q: Math.SQRT1_2 }, rateHz);
}

/** High pass of 12 dB an octave (Butterworth). */
export function highPass(hz: number, rateHz: number): Section {
  return designBiquad({ kind: 'highPass', hz, q: Math.SQRT1_2 }, rateHz);
}

/** A hump of `gainDb` at `hz`. */
export function peak(hz: number, gainDb: number, q: number, rateHz: number): Section {
  return designBiquad({ kind: 'peak', hz, q, gainDb }, rateHz);
}

/**
 * Band pass, 0 dB at its middle.
 * Source: Robert Bristow-Johnson, "Audio EQ Cookbook", W3C Working Group Note 2021.
 */
export function bandPass(hz: number, q: number, rateHz: number): Section {
  const w = (2 * Math.PI * hz) / rateHz;
  const alpha = Math.sin(w) / (2 * q);
  const a0 = 1 + alpha;
  return { b0: alpha / a0, b1: 0, b2: -alpha / a0, a1: (-2 * Math.cos(w)) / a0, a2: (1 - alpha) / a0 };
}

/** Runs a section over the whole sound, from rest (transposed direct form II). */
export function filterInPlace(sound: Float64Array, { b0, b1, b2, a1, a2 }: Section): void {
  let s1 = 0;
  let s2 = 0;
  for (let i = 0; i < sound.length; i++) {
    const x = sound[i]!;
    const y = b0 * x + s1;
    s1 = b1 * x - a1 * y + s2;
    s2 = b2 * x - a2 * y;
    sound[i] = y;
  }
}
