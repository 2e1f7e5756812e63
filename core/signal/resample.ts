import { FarInterpolator } from './far-interpolator.ts';
import { assertInRange } from './fault.ts';
import type { Interpolator } from './interpolator.ts';
import { loadResampleKernel } from './kernel/resample-kernel.ts';
import { NearInterpolator } from './near-interpolator.ts';
import { SimdNearInterpolator } from './simd-near-interpolator.ts';

/** Up to this step the input is interpolated without lowering the cutoff: aliasing then falls above 0.98 of Nyquist. */
const LARGEST_NEAR_STEP = 1.01;

/**
 * step: input frames per output frame, 1/32 to 32. In WebAssembly where its SIMD is to be had, else the same in plain
 * TypeScript, equal to it to 120 dB.
 */
export function makeInterpolator(step: number): Interpolator {
  assertInRange('step', step, 1 / 32, 32);
  if (step > LARGEST_NEAR_STEP) return new FarInterpolator(step);
  const kernel = loadResampleKernel();
  return kernel === undefined ? new NearInterpolator(step) : new SimdNearInterpolator(step, kernel);
}
