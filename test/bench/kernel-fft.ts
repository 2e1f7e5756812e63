/**
 * Real FFT pairs (forward and inverse), kernel against plain TypeScript, interleaved in one process; read the ratios.
 * The kernel's pairs include a window on the way in and window and overlap-add on the way out.
 * `npx rolldown test/bench/kernel-fft.ts --platform node -f esm -o /tmp/kernel-fft.mjs && node /tmp/kernel-fft.mjs`
 */
import { loadKernel } from '../../core/noise/kernel/kernel.ts';
import type { StftPlan } from '../../core/noise/kernel/stft-plan.ts';
import { RealFft } from '../../core/signal/fft.ts';
import { Random } from '../../core/signal/random.ts';

const ROUNDS = 7;
const SLICE_MS = 250;

/** Runs per CPU second. */
function rate(run: () => void): number {
  const start = process.cpuUsage();
  const end = performance.now() + SLICE_MS;
  let runs = 0;
  do {
    for (let n = 0; n < 64; n++) run();
    runs += 64;
  } while (performance.now() < end);
  const used = process.cpuUsage(start);
  return (runs * 1e6) / (used.user + used.system);
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1]!;
}

function plainPair(size: number): () => void {
  const fft = new RealFft(size);
  const random = new Random(size);
  const x = Float64Array.from({ length: size }, () => random.gaussian());
  const re = new Float64Array(size / 2 + 1);
  const im = new Float64Array(size / 2 + 1);
  return () => {
    fft.forward(x, re, im);
    fft.inverse(re, im, x);
  };
}

function kernelPair(plan: StftPlan): () => void {
  const random = new Random(plan.size);
  plan.scratch.set(Float32Array.from({ length: plan.size }, () => random.gaussian()));
  const { forwardOnce, inverseOnce } = plan.exports;
  const { address } = plan;
  return () => {
    forwardOnce(address);
    inverseOnce(address);
  };
}

const kernel = loadKernel();
if (kernel === undefined) throw new Error('no WebAssembly SIMD here');
for (const size of [2048, 4096, 8192]) {
  const runs = [plainPair(size), kernelPair(kernel.plan({ size, hop: size / 4 }))];
  const rates: number[][] = runs.map(() => []);
  for (const run of runs) rate(run);
  for (let round = 0; round < ROUNDS; round++) {
    for (const [n, run] of runs.entries()) rates[n]!.push(rate(run));
  }
  const [plain, simd] = rates.map(median);
  const ratios = rates[0]!.map((value, n) => rates[1]![n]! / value);
  process.stdout.write(
    `N=${size}: plain ${Math.round(plain!)} pairs/s, kernel ${Math.round(simd!)} pairs/s, ratio ${median(ratios).toFixed(2)}` +
      ` (${Math.min(...ratios).toFixed(2)} to ${Math.max(...ratios).toFixed(2)})\n`,
  );
}
