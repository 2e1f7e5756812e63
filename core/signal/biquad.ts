import { assertInRange } from './fault.ts';

/** y[n] = b0 x[n] + b1 x[n-1] + b2 x[n-2] - a1 y[n-1] - a2 y[n-2] (a0 is 1). */
export interface BiquadCoefficients {
  readonly b0: number;
  readonly b1: number;
  readonly b2: number;
  readonly a1: number;
  readonly a2: number;
}

/** What a biquad does; Q of 1/sqrt 2 is Butterworth's, slope 1 the steepest shelf without overshoot. */
export type BiquadShape =
  | { readonly kind: 'lowPass' | 'highPass'; readonly hz: number; readonly q: number }
  | { readonly kind: 'peak'; readonly hz: number; readonly q: number; readonly gainDb: number }
  | { readonly kind: 'lowShelf' | 'highShelf'; readonly hz: number; readonly slope: number; readonly gainDb: number };

/**
 * Coefficients by the bilinear transform.
 * Source: Robert Bristow-Johnson, "Audio EQ Cookbook", W3C Working Group Note 2021.
 * hz: above 0, below half of rateHz.
 */
export function designBiquad(shape: BiquadShape, rateHz: number): BiquadCoefficients {
  assertInRange('hz', shape.hz, 1e-3, rateHz / 2 - 1e-3);
  const w0 = (2 * Math.PI * shape.hz) / rateHz;
  const cos = Math.cos(w0);
  const sin = Math.sin(w0);
  switch (shape.kind) {
    case 'lowPass': {
      const alpha = sin / (2 * shape.q);
      return normalised((1 - cos) / 2, 1 - cos, (1 - cos) / 2, 1 + alpha, -2 * cos, 1 - alpha);
    }
    case 'highPass': {
      const alpha = sin / (2 * shape.q);
      return normalised((1 + cos) / 2, -(1 + cos), (1 + cos) / 2, 1 + alpha, -2 * cos, 1 - alpha);
    }
    case 'peak': {
      const alpha = sin / (2 * shape.q);
      const a = 10 ** (shape.gainDb / 40);
      return normalised(1 + alpha * a, -2 * cos, 1 - alpha * a, 1 + alpha / a, -2 * cos, 1 - alpha / a);
    }
    case 'lowShelf':
    case 'highShelf': {
      const a = 10 ** (shape.gainDb / 40);
      const alpha = (sin / 2) * Math.sqrt((a + 1 / a) * (1 / shape.slope - 1) + 2);
      const root = 2 * Math.sqrt(a) * alpha;
      // The high shelf is the low one with the spectrum turned round, which changes the sign of cos.
      const c = shape.kind === 'lowShelf' ? cos : -cos;
      const turn = shape.kind === 'lowShelf' ? 1 : -1;
      return normalised(
        a * (a + 1 - (a - 1) * c + root),
        turn * 2 * a * (a - 1 - (a + 1) * c),
        a * (a + 1 - (a - 1) * c - root),
        a + 1 + (a - 1) * c + root,
        turn * -2 * (a - 1 + (a + 1) * c),
        a + 1 + (a - 1) * c - root,
      );
    }
  }
}

function normalised(b0: number, b1: number, b2: number, a0: number, a1: number, a2: number): BiquadCoefficients {
  return { b0: b0 / a0, b1: b1 / a0, b2: b2 / a0, a1: a1 / a0, a2: a2 / a0 };
}

/** Gain of a biquad at a frequency, dB. */
export function biquadGainDb(coefficients: BiquadCoefficients, hz: number, rateHz: number): number {
  const { b0, b1, b2, a1, a2 } = coefficients;
  const w = (2 * Math.PI * hz) / rateHz;
  const power = (p: number, q: number, r: number): number =>
    (p + q * Math.cos(w) + r * Math.cos(2 * w)) ** 2 + (q * Math.sin(w) + r * Math.sin(2 * w)) ** 2;
  return 10 * Math.log10(power(b0, b1, b2) / power(1, a1, a2));
}

/** Below this the state of a filter is nothing but a slow loop of denormal numbers. */
const NEGLIGIBLE = 1e-30;

/**
 * Biquads one after the other over one channel, in place. State in double (transposed direct form II). No latency; the
 * sound does not depend on how it was cut. Allocates nothing while running.
 */
export class BiquadCascade {
  readonly #coefficients: Float64Array;
  readonly #state: Float64Array;

  constructor(stages: readonly BiquadCoefficients[]) {
    this.#coefficients = Float64Array.from(stages.flatMap(({ b0, b1, b2, a1, a2 }) => [b0, b1, b2, a1, a2]));
    this.#state = new Float64Array(2 * stages.length);
  }

  /** Takes other coefficients, for as many stages as before; the state goes on. */
  setStages(stages: readonly BiquadCoefficients[]): void {
    if (5 * stages.length !== this.#coefficients.length) {
      throw new RangeError(`stages are ${stages.length}; allowed ${this.#coefficients.length / 5}`);
    }
    for (let stage = 0; stage < stages.length; stage++) {
      const { b0, b1, b2, a1, a2 } = stages[stage]!;
      this.#coefficients[5 * stage] = b0;
      this.#coefficients[5 * stage + 1] = b1;
      this.#coefficients[5 * stage + 2] = b2;
      this.#coefficients[5 * stage + 3] = a1;
      this.#coefficients[5 * stage + 4] = a2;
    }
  }

  process(samples: Float32Array): void {
    const coefficients = this.#coefficients;
    const state = this.#state;
    for (let stage = 0; 2 * stage < state.length; stage++) {
      const b0 = coefficients[5 * stage]!;
      const b1 = coefficients[5 * stage + 1]!;
      const b2 = coefficients[5 * stage + 2]!;
      const a1 = coefficients[5 * stage + 3]!;
      const a2 = coefficients[5 * stage + 4]!;
      let z1 = state[2 * stage]!;
      let z2 = state[2 * stage + 1]!;
      for (let n = 0; n < samples.length; n++) {
        const x = samples[n]!;
        const y = b0 * x + z1;
        z1 = b1 * x - a1 * y + z2;
        z2 = b2 * x - a2 * y;
        samples[n] = y;
      }
      state[2 * stage] = Math.abs(z1) < NEGLIGIBLE ? 0 : z1;
      state[2 * stage + 1] = Math.abs(z2) < NEGLIGIBLE ? 0 : z2;
    }
  }

  reset(): void {
    this.#state.fill(0);
  }
}
