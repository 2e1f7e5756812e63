import { assertInRange } from '../signal/fault.ts';

/** One second-order section, a0 = 1: y[n] = b0 x[n] + b1 x[n-1] + b2 x[n-2] - a1 y[n-1] - a2 y[n-2]. */
export interface Section {
  readonly b0: number;
  readonly b1: number;
  readonly b2: number;
  readonly a1: number;
  readonly a2: number;
}

const LOWEST_RATE_HZ = 8000;
const HIGHEST_RATE_HZ = 192000;

/** Whether loudness can be measured at a sample rate as it is. */
export function isLoudnessRate(rateHz: number): boolean {
  return rateHz >= LOWEST_RATE_HZ && rateHz <= HIGHEST_RATE_HZ;
}

/**
 * The two sections of the K weighting at a sample rate of 8000 to 192000 Hz: the head's shelf, then the low cut.
 *
 * Source: ITU-R BS.1770-5, Annex 1, Tables 1 and 2 give them at 48 kHz and ask for "the same frequency response" at other
 * rates. The analogue filters below, carried over by the bilinear transform, give those tables to 1e-12. The low cut's
 * numerator is 1, -2, 1 at every rate, as printed, not scaled to unit gain.
 */
export function kWeightingSections(rateHz: number): { shelf: Section; lowCut: Section } {
  assertInRange('rateHz', rateHz, LOWEST_RATE_HZ, HIGHEST_RATE_HZ);
  return { shelf: shelfSection(rateHz), lowCut: lowCutSection(rateHz) };
}

function shelfSection(rateHz: number): Section {
  const k = Math.tan((Math.PI * 1681.974450955533) / rateHz);
  const q = 0.7071752369554196;
  const high = 10 ** (3.999843853973347 / 20);
  const band = high ** 0.4996667741545416;
  const a0 = 1 + k / q + k * k;
  return {
    b0: (high + (band * k) / q + k * k) / a0,
    b1: (2 * (k * k - high)) / a0,
    b2: (high - (band * k) / q + k * k) / a0,
    a1: (2 * (k * k - 1)) / a0,
    a2: (1 - k / q + k * k) / a0,
  };
}

function lowCutSection(rateHz: number): Section {
  const k = Math.tan((Math.PI * 38.13547087602444) / rateHz);
  const q = 0.5003270373238773;
  const a0 = 1 + k / q + k * k;
  return { b0: 1, b1: -2, b2: 1, a1: (2 * (k * k - 1)) / a0, a2: (1 - k / q + k * k) / a0 };
}

/** Below this a filter state is noise far under any signal; left alone it would sink into slow denormal numbers. */
const STATE_FLOOR = 1e-30;

/**
 * K weighting of one channel that keeps only the energy. State and sums are double, audio is Float32Array.
 * No allocation while running.
 */
export class KWeightedEnergy {
  readonly #coefficients: Float64Array;
  /** s1, s2 of the shelf, s1, s2 of the low cut, energy. */
  readonly #state = new Float64Array(5);

  constructor(rateHz: number) {
    const { shelf, lowCut } = kWeightingSections(rateHz);
    this.#coefficients = Float64Array.of(shelf.b0, shelf.b1, shelf.b2, shelf.a1, shelf.a2, lowCut.a1, lowCut.a2);
  }

  /** Takes samples[from] up to, not including, samples[to]. */
  add(samples: Float32Array, from: number, to: number): void {
    const coefficients = this.#coefficients;
    const b0 = coefficients[0]!;
    const b1 = coefficients[1]!;
    const b2 = coefficients[2]!;
    const a1 = coefficients[3]!;
    const a2 = coefficients[4]!;
    const c1 = coefficients[5]!;
    const c2 = coefficients[6]!;
    const state = this.#state;
    let s1 = state[0]!;
    let s2 = state[1]!;
    let r1 = state[2]!;
    let r2 = state[3]!;
    let energy = state[4]!;
    for (let n = from; n < to; n++) {
      const x = samples[n]!;
      const y = b0 * x + s1;
      s1 = b1 * x + s2 - a1 * y;
      s2 = b2 * x - a2 * y;
      const z = y + r1;
      r1 = r2 - 2 * y - c1 * z;
      r2 = y - c2 * z;
      energy += z * z;
    }
    state[0] = s1;
    state[1] = s2;
    state[2] = r1;
    state[3] = r2;
    state[4] = energy;
  }

  /** Sum of the squared K-weighted samples since the last call. */
  takeEnergy(): number {
    const state = this.#state;
    const energy = state[4]!;
    state[4] = 0;
    for (let k = 0; k < 4; k++) {
      if (Math.abs(state[k]!) < STATE_FLOOR) state[k] = 0;
    }
    return energy;
  }

  /** Back to the state of a new filter. */
  reset(): void {
    this.#state.fill(0);
  }
}
