import { AHEAD_FRAMES, analysisWindow, CHUNK_FRAMES, type FramePlan, synthesisWindow } from './frame-plan.ts';
import { acrossShare } from './gain-estimator.ts';
import type { RuleName } from './gain-rule.ts';
import { type Kernel, loadKernel } from './kernel/kernel.ts';
import type { StftPlan } from './kernel/stft-plan.ts';
import { NoiseFollower } from './noise-follower.ts';
import type { NoiseProfile } from './profile.ts';
import type { CleanSettings } from './settings.ts';
import type { SpectralEngine } from './spectral-engine.ts';

const RULE_NUMBERS: Record<RuleName, number> = { lsa: 0, wiener: 1, subtract: 2 };
/** Longest window the kernel can lay out, samples. */
const LONGEST_WINDOW = 16384;

/** The engine in the SIMD kernel, single precision; undefined where there is none, or the window is too long for it. */
export function makeKernelEngine(
  plan: FramePlan,
  profile: NoiseProfile,
  settings: CleanSettings,
  startFrame: number,
): SpectralEngine | undefined {
  if (plan.size > LONGEST_WINDOW) return undefined;
  const kernel = loadKernel();
  return kernel === undefined ? undefined : new KernelEngine(kernel, plan, profile, settings, startFrame);
}

class KernelEngine implements SpectralEngine {
  readonly plan: FramePlan;
  readonly #kernel: Kernel;
  readonly #stft: StftPlan;
  readonly #clean: number;
  readonly #follower: NoiseFollower;
  readonly #input: Float32Array;
  readonly #inverse: Float32Array;
  #output: Float32Array = new Float32Array(0);
  #hops = 0;
  #chunks = 0;

  constructor(kernel: Kernel, plan: FramePlan, profile: NoiseProfile, settings: CleanSettings, startFrame: number) {
    this.plan = plan;
    this.#kernel = kernel;
    const ringFrames = CHUNK_FRAMES + AHEAD_FRAMES;
    this.#stft = kernel.plan({ size: plan.size, hop: plan.hop, callFrames: CHUNK_FRAMES, ringFrames });
    this.#clean = kernel.exports.clean(
      this.#stft.address,
      settings.steadiness,
      10 ** (settings.priorFloorDb / 10),
      10 ** (-settings.reductionDb / 20),
      RULE_NUMBERS[settings.rule],
    );
    // Nothing is laid out after this, so the views stay good.
    const addresses = new Int32Array(kernel.exports.memory.buffer, this.#clean, 2);
    this.#inverse = kernel.floats(addresses[0]!, plan.bins);
    kernel.floats(addresses[1]!, plan.bins).set(acrossShare(plan));
    this.#stft.analysisWindow.set(analysisWindow(plan));
    this.#stft.synthesisWindow.set(synthesisWindow(plan));
    this.#input = this.#stft.input;
    this.#follower = new NoiseFollower(plan, profile, settings, startFrame);
  }

  get output(): Float32Array {
    return this.#output;
  }

  push(samples: Float32Array, offset: number): boolean {
    const hop = this.plan.hop;
    this.#input.set(samples.subarray(offset, offset + hop), this.#hops * hop);
    this.#hops++;
    if (this.#hops < CHUNK_FRAMES) return false;
    this.#hops = 0;
    this.#chunks++;
    if (this.#chunks > 1) {
      const inverse = this.#follower.next();
      if (inverse !== undefined) this.#inverse.set(inverse);
    }
    if (this.#kernel.exports.cleanChunk(this.#clean) <= 0) return false;
    this.#output = this.#stft.output;
    return true;
  }

  reset(startFrame: number): void {
    this.#stft.reset();
    this.#kernel.exports.resetClean(this.#clean);
    this.#follower.reset(startFrame);
    this.#hops = 0;
    this.#chunks = 0;
  }
}
