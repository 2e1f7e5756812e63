/** A second-order section, a0 = 1. Formulas: Bristow-Johnson, Cookbook formulae for audio EQ, 2005. */
export interface Section {
  readonly b0: number;
  readonly b1: number;
  readonly b2: number;
  readonly a1: number;
  readonly a2: number;
}

function section(b0: number, b1: number, b2: number, a0: number, a1: number, a2: number): Section {
  return { b0: b0 / a0, b1: b1 / a0, b2: b2 / a0, a1: a1 / a0, a2: a2 / a0 };
}

/** Low pass of 12 dB an octave; q 0.707 is Butterworth. */
export function lowPass(cutHz: number, rateHz: number, q = Math.SQRT1_2): Section {
  const w = (2 * Math.PI * cutHz) / rateHz;
  const cosine = Math.cos(w);
  const alpha = Math.sin(w) / (2 * q);
  return section((1 - cosine) / 2, 1 - cosine, (1 - cosine) / 2, 1 + alpha, -2 * cosine, 1 - alpha);
}

/** High pass of 12 dB an octave. */
export function highPass(cutHz: number, rateHz: number, q = Math.SQRT1_2): Section {
  const w = (2 * Math.PI * cutHz) / rateHz;
  const cosine = Math.cos(w);
  const alpha = Math.sin(w) / (2 * q);
  return section((1 + cosine) / 2, -1 - cosine, (1 + cosine) / 2, 1 + alpha, -2 * cosine, 1 - alpha);
}

/** Band pass, 0 dB at its middle. */
export function bandPass(middleHz: number, q: number, rateHz: number): Section {
  const w = (2 * Math.PI * middleHz) / rateHz;
  const alpha = Math.sin(w) / (2 * q);
  return section(alpha, 0, -alpha, 1 + alpha, -2 * Math.cos(w), 1 - alpha);
}

/** A hump of `gainDb` at `middleHz`. */
export function peak(middleHz: number, gainDb: number, q: number, rateHz: number): Section {
  const w = (2 * Math.PI * middleHz) / rateHz;
  const alpha = Math.sin(w) / (2 * q);
  const a = 10 ** (gainDb / 40);
  const twist = -2 * Math.cos(w);
  return section(1 + alpha * a, twist, 1 - alpha * a, 1 + alpha / a, twist, 1 - alpha / a);
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
