/** What the kernel exports; kernel-exports.ts has the types. */
import { Plan, slotAt } from './plan';
import { forward, inverse } from './real-fft';

export { clean, cleanChunk, resetClean } from './clean';
export { addLevels, levels, levelsInput, takePeak } from './levels';
export { allocate, plan } from './plan';
export { analyse, process, reset, synthesise } from './stft';
export { dot, exp2Array, largest, log2Array, sum } from './sums';

/** Spectrum of the samples in the plan's scratch, without a window, into the slot after the ring. */
export function forwardOnce(plan: Plan): void {
  forward(plan, plan.scratch, plan.ones, slotAt(plan, plan.ringFrames));
}

/** Power of the samples in the plan's scratch under its analysis window, into the slot after the ring. */
export function powerOnce(plan: Plan): void {
  forward(plan, plan.scratch, plan.analysisWindow, slotAt(plan, plan.ringFrames));
}

/** Samples of the slot after the ring, with its gains, into the plan's scratch. */
export function inverseOnce(plan: Plan): void {
  memory.fill(plan.scratch, 0, <usize>plan.size << 2);
  inverse(plan, slotAt(plan, plan.ringFrames), plan.ones, plan.scratch);
}
