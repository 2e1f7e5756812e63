import { RealFft } from '../signal/fft.ts';
import { analysisWindow, type FramePlan } from './frame-plan.ts';
import { loadKernel } from './kernel/kernel.ts';

/** Power spectra of single windows of sound, behind the analysis window. */
export interface WindowPower {
  /** plan.size samples, to be put in before each `run`. */
  readonly samples: Float32Array;
  /** |X|^2 of each of plan.bins bins after `run`, not scaled; until the next. */
  readonly power: Float32Array;
  run(): void;
}

/** Longest window the kernel can lay out, samples. */
const LONGEST_WINDOW = 16384;

let kept: { readonly size: number; readonly spectra: WindowPower } | undefined;

/** One for all in a thread, since laying one out takes a millisecond: fill it, run it and read it in one go. */
export function windowPower(plan: FramePlan): WindowPower {
  if (kept?.size !== plan.size) kept = { size: plan.size, spectra: makeWindowPower(plan) };
  return kept.spectra;
}

/** In the kernel where it is to be had, else in plain TypeScript, which gives the same to single precision. */
export function makeWindowPower(plan: FramePlan, engine: 'kernel' | 'plain' = 'kernel'): WindowPower {
  const kernel = engine === 'kernel' && plan.size <= LONGEST_WINDOW ? kernelPower(plan) : undefined;
  return kernel ?? plainPower(plan);
}

function kernelPower(plan: FramePlan): WindowPower | undefined {
  const kernel = loadKernel();
  if (kernel === undefined) return undefined;
  const stft = kernel.plan({ size: plan.size, hop: plan.hop });
  stft.analysisWindow.set(analysisWindow(plan));
  return {
    samples: stft.scratch,
    power: stft.single.power,
    run: () => kernel.exports.powerOnce(stft.address),
  };
}

function plainPower(plan: FramePlan): WindowPower {
  const fft = new RealFft(plan.size);
  const window = analysisWindow(plan);
  const samples = new Float32Array(plan.size);
  const power = new Float32Array(plan.bins);
  const work = new Float64Array(plan.size);
  const re = new Float64Array(plan.bins);
  const im = new Float64Array(plan.bins);
  return {
    samples,
    power,
    run() {
      for (let n = 0; n < work.length; n++) work[n] = samples[n]! * window[n]!;
      fft.forward(work, re, im);
      for (let k = 0; k < power.length; k++) power[k] = re[k]! * re[k]! + im[k]! * im[k]!;
    },
  };
}
