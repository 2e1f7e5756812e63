import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { describe, expect, it } from 'vitest';
import { measure, melodyOf, noiseOf, toneOf } from '../core/loudness/signals.ts';

/** The calls of the package ebur128-wasm 3.0.0 (libebur128 in Rust), whose loader the test runner cannot follow. */
interface Oracle {
  readonly memory: { readonly buffer: ArrayBuffer };
  __wbindgen_malloc(bytes: number): number;
  ebur128_integrated_mono(rateHz: number, at: number, frames: number): number;
  ebur128_integrated_stereo(rateHz: number, left: number, frames: number, right: number, framesRight: number): number;
  ebur128_true_peak_mono(rateHz: number, at: number, frames: number): number;
  ebur128_true_peak_stereo(rateHz: number, left: number, frames: number, right: number, framesRight: number): number;
}

/** What of WebAssembly is needed here; the type library of Node 20 has none of it. */
interface WebAssemblyApi {
  readonly Module: {
    new (bytes: Uint8Array): object;
    imports(module: object): { module: string; name: string }[];
  };
  readonly Instance: new (module: object, imports: object) => { readonly exports: unknown };
}

function startOracle(): Oracle {
  const api = (globalThis as unknown as { WebAssembly: WebAssemblyApi }).WebAssembly;
  const path = createRequire(import.meta.url).resolve('ebur128-wasm/ebur128_wasm_bg.wasm');
  const module = new api.Module(readFileSync(path));
  const imports: Record<string, Record<string, () => never>> = {};
  for (const { module: from, name } of api.Module.imports(module)) {
    imports[from] ??= {};
    imports[from][name] = () => {
      throw new Error(`ebur128-wasm called ${name}`);
    };
  }
  return new api.Instance(module, imports).exports as Oracle;
}

const oracle = startOracle();

function place(samples: Float32Array): number {
  const at = oracle.__wbindgen_malloc(samples.length * 4);
  new Float32Array(oracle.memory.buffer).set(samples, at / 4);
  return at;
}

const signals: readonly (readonly [string, number, readonly Float32Array[]])[] = [
  ['a mono melody at 44.1 kHz, seed 51', 44100, [melodyOf(12, 44100, 51)]],
  ['a stereo melody at 48 kHz, seeds 52 and 53', 48000, [melodyOf(12, 48000, 52), melodyOf(12, 48000, 53)]],
  ['mono noise at 48 kHz, seed 54', 48000, [noiseOf(48000 * 5, 0.2, 54)]],
  [
    'tones at -36, -23, -36 dBFS',
    48000,
    [0, 1].map(() => toneOf([[3, -36] as const, [12, -23] as const, [3, -36] as const])),
  ],
];

describe('ebur128-wasm 3.0.0 as judge', () => {
  for (const [name, rateHz, channels] of signals) {
    it(`agrees on ${name} within 0.01 LU and 0.15 dB`, () => {
      const report = measure(channels, { rateHz });
      const frames = channels[0]!.length;
      const [left, right] = channels.map(place);
      const integrated =
        right === undefined
          ? oracle.ebur128_integrated_mono(rateHz, left!, frames)
          : oracle.ebur128_integrated_stereo(rateHz, left!, frames, right, frames);
      expect(Math.abs(report.integratedLufs - integrated)).toBeLessThan(0.01);
      const [leftAgain, rightAgain] = channels.map(place);
      const truePeak =
        rightAgain === undefined
          ? oracle.ebur128_true_peak_mono(rateHz, leftAgain!, frames)
          : oracle.ebur128_true_peak_stereo(rateHz, leftAgain!, frames, rightAgain, frames);
      // Its four-times meter may read white noise low by up to some tenths; music it reads alike.
      expect(report.truePeakDbtp - truePeak).toBeLessThan(name.includes('noise') ? 0.5 : 0.15);
      expect(report.truePeakDbtp - truePeak).toBeGreaterThan(-0.15);
    });
  }
});
