import type { FftEngine } from './fft-engine.ts';

/**
 * The transform of fft.ts in plain TypeScript: the kernel's twin, its oracle and its fallback. A real transform of N is a complex one
 * of N/2 (radix-4 Stockham autosort, radix-2 for the odd power) with a split step; see Van Loan, Computational Frameworks for the Fast
 * Fourier Transform, 1992, sections 1.7 and 4.4. All buffers are Float64Array (mixing Float32Array in would make the hot loops
 * polymorphic, measured 1.2 to 3 times slower).
 */
export class ScriptFft implements FftEngine {
  readonly #half: number;
  readonly #twiddleRe: Float64Array;
  readonly #twiddleIm: Float64Array;
  readonly #splitRe: Float64Array;
  readonly #splitIm: Float64Array;
  readonly #aRe: Float64Array;
  readonly #aIm: Float64Array;
  readonly #bRe: Float64Array;
  readonly #bIm: Float64Array;

  /** size: as for RealFft. */
  constructor(size: number) {
    const half = size / 2;
    this.#half = half;
    this.#twiddleRe = new Float64Array(half);
    this.#twiddleIm = new Float64Array(half);
    for (let k = 0; k < half; k++) {
      this.#twiddleRe[k] = Math.cos((2 * Math.PI * k) / half);
      this.#twiddleIm[k] = -Math.sin((2 * Math.PI * k) / half);
    }
    this.#splitRe = new Float64Array(half / 2 + 1);
    this.#splitIm = new Float64Array(half / 2 + 1);
    for (let k = 0; k <= half / 2; k++) {
      this.#splitRe[k] = Math.cos((2 * Math.PI * k) / size);
      this.#splitIm[k] = -Math.sin((2 * Math.PI * k) / size);
    }
    this.#aRe = new Float64Array(half);
    this.#aIm = new Float64Array(half);
    this.#bRe = new Float64Array(half);
    this.#bIm = new Float64Array(half);
  }

  /** input: N samples; re, im: N/2 + 1 bins each, overwritten. im[0] and im[N/2] become 0. */
  forward(input: Float64Array, re: Float64Array, im: Float64Array): void {
    const half = this.#half;
    const aRe = this.#aRe;
    const aIm = this.#aIm;
    for (let n = 0; n < half; n++) {
      aRe[n] = input[2 * n]!;
      aIm[n] = input[2 * n + 1]!;
    }
    const inA = this.#transform();
    const zRe = inA ? aRe : this.#bRe;
    const zIm = inA ? aIm : this.#bIm;
    const splitRe = this.#splitRe;
    const splitIm = this.#splitIm;
    re[0] = zRe[0]! + zIm[0]!;
    im[0] = 0;
    re[half] = zRe[0]! - zIm[0]!;
    im[half] = 0;
    for (let k = 1; k <= half >> 1; k++) {
      const mirror = half - k;
      const evenRe = 0.5 * (zRe[k]! + zRe[mirror]!);
      const evenIm = 0.5 * (zIm[k]! - zIm[mirror]!);
      const oddRe = 0.5 * (zIm[k]! + zIm[mirror]!);
      const oddIm = -0.5 * (zRe[k]! - zRe[mirror]!);
      const turnedRe = oddRe * splitRe[k]! - oddIm * splitIm[k]!;
      const turnedIm = oddRe * splitIm[k]! + oddIm * splitRe[k]!;
      re[k] = evenRe + turnedRe;
      im[k] = evenIm + turnedIm;
      re[mirror] = evenRe - turnedRe;
      im[mirror] = turnedIm - evenIm;
    }
  }

  /** re, im: N/2 + 1 bins (im[0] and im[N/2] are taken as 0); output: N samples, overwritten. */
  inverse(re: Float64Array, im: Float64Array, output: Float64Array): void {
    const half = this.#half;
    const aRe = this.#aRe;
    const aIm = this.#aIm;
    const splitRe = this.#splitRe;
    const splitIm = this.#splitIm;
    // The conjugate of the packed spectrum goes in, so that a forward transform serves as the inverse.
    aRe[0] = 0.5 * (re[0]! + re[half]!);
    aIm[0] = -0.5 * (re[0]! - re[half]!);
    for (let k = 1; k <= half >> 1; k++) {
      const mirror = half - k;
      const evenRe = 0.5 * (re[k]! + re[mirror]!);
      const evenIm = 0.5 * (im[k]! - im[mirror]!);
      const turnedRe = 0.5 * (re[k]! - re[mirror]!);
      const turnedIm = 0.5 * (im[k]! + im[mirror]!);
      const oddRe = turnedRe * splitRe[k]! + turnedIm * splitIm[k]!;
      const oddIm = turnedIm * splitRe[k]! - turnedRe * splitIm[k]!;
      aRe[k] = evenRe - oddIm;
      aIm[k] = -(evenIm + oddRe);
      aRe[mirror] = evenRe + oddIm;
      aIm[mirror] = evenIm - oddRe;
    }
    const inA = this.#transform();
    const zRe = inA ? aRe : this.#bRe;
    const zIm = inA ? aIm : this.#bIm;
    const scale = 1 / half;
    for (let n = 0; n < half; n++) {
      output[2 * n] = zRe[n]! * scale;
      output[2 * n + 1] = -zIm[n]! * scale;
    }
  }

  /** Complex transform of what lies in a; true when the result lies in a, false when in b. */
  #transform(): boolean {
    const total = this.#half;
    const twRe = this.#twiddleRe;
    const twIm = this.#twiddleIm;
    let xRe = this.#aRe;
    let xIm = this.#aIm;
    let yRe = this.#bRe;
    let yIm = this.#bIm;
    let n = total;
    let stride = 1;
    while (n >= 4) {
      const quarter = n >> 2;
      for (let p = 0; p < quarter; p++) {
        const w1Re = twRe[p * stride]!;
        const w1Im = twIm[p * stride]!;
        const w2Re = twRe[2 * p * stride]!;
        const w2Im = twIm[2 * p * stride]!;
        const w3Re = w1Re * w2Re - w1Im * w2Im;
        const w3Im = w1Re * w2Im + w1Im * w2Re;
        const from = stride * p;
        const to = stride * 4 * p;
        for (let q = 0; q < stride; q++) {
          const i0 = from + q;
          const i1 = i0 + stride * quarter;
          const i2 = i1 + stride * quarter;
          const i3 = i2 + stride * quarter;
          const acRe = xRe[i0]! + xRe[i2]!;
          const acIm = xIm[i0]! + xIm[i2]!;
          const amcRe = xRe[i0]! - xRe[i2]!;
          const amcIm = xIm[i0]! - xIm[i2]!;
          const bdRe = xRe[i1]! + xRe[i3]!;
          const bdIm = xIm[i1]! + xIm[i3]!;
          const jbmdRe = -(xIm[i1]! - xIm[i3]!);
          const jbmdIm = xRe[i1]! - xRe[i3]!;
          const o0 = to + q;
          const o1 = o0 + stride;
          const o2 = o1 + stride;
          const o3 = o2 + stride;
          yRe[o0] = acRe + bdRe;
          yIm[o0] = acIm + bdIm;
          const r1 = amcRe - jbmdRe;
          const s1 = amcIm - jbmdIm;
          yRe[o1] = w1Re * r1 - w1Im * s1;
          yIm[o1] = w1Re * s1 + w1Im * r1;
          const r2 = acRe - bdRe;
          const s2 = acIm - bdIm;
          yRe[o2] = w2Re * r2 - w2Im * s2;
          yIm[o2] = w2Re * s2 + w2Im * r2;
          const r3 = amcRe + jbmdRe;
          const s3 = amcIm + jbmdIm;
          yRe[o3] = w3Re * r3 - w3Im * s3;
          yIm[o3] = w3Re * s3 + w3Im * r3;
        }
      }
      n = quarter;
      stride *= 4;
      const swapRe = xRe;
      xRe = yRe;
      yRe = swapRe;
      const swapIm = xIm;
      xIm = yIm;
      yIm = swapIm;
    }
    if (n === 2) {
      for (let q = 0; q < stride; q++) {
        const aRe = xRe[q]!;
        const aIm = xIm[q]!;
        const bRe = xRe[q + stride]!;
        const bIm = xIm[q + stride]!;
        yRe[q] = aRe + bRe;
        yIm[q] = aIm + bIm;
        yRe[q + stride] = aRe - bRe;
        yIm[q + stride] = aIm - bIm;
      }
      xRe = yRe;
    }
    return xRe === this.#aRe;
  }
}
