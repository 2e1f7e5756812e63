import { integratedLufs, powerToLufs } from './gate.ts';

/** Tenths of a second that momentary loudness is taken over. */
const TENTHS = 4;

/**
 * Momentary powers at (k + 1) / 10 s: means over the 400 ms before; silence is taken to come before the first. Source: EBU Tech 3341 (2023).
 * energies: sum of squared K-weighted samples of each tenth of a second, whose edges lie at the frames nearest to them. The same to the last bit
 * as what LoudnessSteps makes of hundredths. A RangeError names a tenth that is not finite.
 */
export function momentaryPowers(energies: Float64Array, rateHz: number): Float64Array {
  const powers = new Float64Array(energies.length);
  for (let k = 0; k < energies.length; k++) {
    if (!Number.isFinite(energies[k]!)) {
      throw new RangeError(
        `the tenth of a second after ${k / 10} s holds a number that is not finite; allowed finite only`,
      );
    }
    let energy = 0;
    for (let n = k; n >= Math.max(0, k - TENTHS + 1); n--) energy += energies[n]!;
    powers[k] = energy / (edgeOf(k + 1, rateHz) - edgeOf(k + 1 - TENTHS, rateHz));
  }
  return powers;
}

function edgeOf(tenth: number, rateHz: number): number {
  return Math.round((10 * tenth * rateHz) / 100);
}

/** Gated loudness of the whole, LUFS, and the momentary one at (k + 1) / 10 s. powers: as momentaryPowers gives them. */
export function loudnessOf(powers: Float64Array): {
  readonly integratedLufs: number;
  readonly momentaryLufs: readonly number[];
} {
  const momentaryLufs: number[] = [];
  for (let k = 0; k < powers.length; k++) momentaryLufs.push(powerToLufs(powers[k]!));
  // The first whole 400 ms are entry 3.
  return { integratedLufs: integratedLufs(powers.subarray(Math.min(TENTHS - 1, powers.length))), momentaryLufs };
}
