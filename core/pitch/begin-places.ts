import { type BeginPlace, possibleBegins, WEIGHTS } from './begins.ts';
import { loadPitchKernel } from './kernel/pitch-kernel.ts';
import type { PitchTrack } from './pitch-tracker.ts';

/** Fewer steps than this are not worth a kernel. */
const LEAST_STEPS = 100;
/** Numbers from one row of weights to the next, as laid out in kernel/assembly/begins.ts. */
const WEIGHTS_ROOM = 16;

/**
 * Places at which a note may begin, in time order, and how likely it does: what `possibleBegins` finds, to the last bit. In WebAssembly where
 * its SIMD is to be had. Memory: some 70 bytes for each step of the track while it works.
 */
export function beginPlaces(track: PitchTrack): readonly BeginPlace[] {
  return kernelBeginPlaces(track) ?? possibleBegins(track);
}

/** The same in WebAssembly; undefined where there is none, or where a track is too short. */
export function kernelBeginPlaces(track: PitchTrack): BeginPlace[] | undefined {
  const { stepPowers, brightPowers, breakPowers, hz, stepSec, firstSec, hopSec, samplesHz } = track;
  const steps = stepPowers.length;
  const frames = hz.length;
  const isWhole = brightPowers.length === steps && breakPowers.length === steps;
  if (!isWhole || steps < LEAST_STEPS || frames === 0 || frames > steps) return undefined;
  const kernel = loadPitchKernel();
  const table = kernel?.planBegins(steps, frames) ?? 0;
  if (kernel === undefined || table === 0) return undefined;
  const { buffer } = kernel.memory;
  const at = new Uint32Array(buffer, table, 8);
  const write = (address: number, row: Float64Array): void => new Float64Array(buffer, address, row.length).set(row);
  write(at[0]!, stepPowers);
  write(at[1]!, brightPowers);
  write(at[2]!, breakPowers);
  write(at[3]!, hz);
  for (const [n, row] of WEIGHTS.entries()) write(at[4]! + 8 * WEIGHTS_ROOM * n, row);
  const count = kernel.findBegins(stepSec, firstSec, hopSec, samplesHz);
  const places = new Int32Array(buffer, at[5]!, count);
  const scores = new Float64Array(buffer, at[6]!, count);
  const found: BeginPlace[] = [];
  for (let n = 0; n < count; n++) found.push({ sec: (places[n]! + 0.5) * stepSec, score: scores[n]! });
  return found;
}
