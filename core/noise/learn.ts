import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { Sound } from '../signal/sound.ts';
import { type FramePlan, framePlan } from './frame-plan.ts';
import { findLines } from './noise-lines.ts';
import { binLevelDbfs, NO_POWER_DBFS, type NoiseProfile, type NoiseState, spectrumLevelDbfs } from './profile.ts';
import { type WindowPower, windowPower } from './window-power.ts';

/** A stretch of a take: from its first frame to the one behind its last. */
export interface Stretch {
  readonly fromFrame: number;
  readonly toFrame: number;
}

/** What came of learning. An unfit silence still gives a profile where there was sound enough for one. */
export type LearntNoise =
  | { readonly kind: 'learnt'; readonly profile: NoiseProfile }
  | {
      readonly kind: 'unfit';
      readonly reason: 'too short' | 'holds music' | 'digital silence';
      readonly profile?: NoiseProfile;
    };

/** Less silence than this cannot be learnt from, seconds. */
export const SHORTEST_SILENCE_SEC = 0.4;
/** More of one silence than this is not listened to, seconds. */
const LONGEST_LISTEN_SEC = 5;
/** Silences listened to. */
const MOST_SILENCES = 4;
/** A band whose level moves more than this within a silence holds more than noise, dB. Measured: noise moves by 3. */
const LARGEST_SWING_DB = 9;
/** Bins over which the mean power is smoothed, to each side; lines are left as they are. */
const SMOOTH_BINS = 4;

interface Heard {
  readonly power: Float64Array;
  readonly swingDb: number;
}

/**
 * Learns the noise of a take from its silences: mean power per bin (the unbiased estimate for Gaussian noise), hum
 * lines and whistles. Reads only those stretches. Several silences follow a noise that changes over the take; one that
 * does not fit the best (the first in the list) is left out. most: so many are listened to; level, lines and hum, and whether anything was
 * learnt, are those of the best alone.
 */
export function learnNoise(
  sound: Sound,
  silences: readonly Stretch[],
  cancel?: Cancel,
  most = MOST_SILENCES,
): LearntNoise {
  const plan = framePlan(sound.rateHz);
  const shortest = Math.round(SHORTEST_SILENCE_SEC * sound.rateHz);
  const usable = silences.filter(({ fromFrame, toFrame }) => toFrame - fromFrame >= shortest);
  const first = usable[0];
  if (first === undefined) return { kind: 'unfit', reason: 'too short' };
  const spectra = windowPower(plan);
  const best = listen(sound, plan, spectra, first, cancel);
  const { lines, humHz } = findLines(plan, best.power);
  const states = [stateOf(plan, first, best.power)];
  if (states[0]!.levelDbfs <= NO_POWER_DBFS) return { kind: 'unfit', reason: 'digital silence' };
  for (const other of usable.slice(1, most)) {
    const heard = listen(sound, plan, spectra, other, cancel);
    if (heard.swingDb <= LARGEST_SWING_DB && alike(best.power, heard.power)) {
      states.push(stateOf(plan, other, heard.power));
    }
  }
  states.sort((a, b) => a.centreFrame - b.centreFrame);
  const profile: NoiseProfile = {
    rateHz: sound.rateHz,
    size: plan.size,
    states,
    lines,
    humHz,
    levelDbfs: spectrumLevelDbfs(plan, best.power),
  };
  if (best.swingDb > LARGEST_SWING_DB) return { kind: 'unfit', reason: 'holds music', profile };
  return { kind: 'learnt', profile };
}

function stateOf(plan: FramePlan, { fromFrame, toFrame }: Stretch, power: Float64Array): NoiseState {
  return {
    centreFrame: Math.round((fromFrame + toFrame) / 2),
    lengthFrames: toFrame - fromFrame,
    levelDbfs: spectrumLevelDbfs(plan, power),
    powerDbfs: thousandths(plan, smoothed(power)),
  };
}

/** Levels of bins, dBFS, to 0.001. */
function thousandths(plan: FramePlan, power: Float64Array): number[] {
  const levels: number[] = [];
  for (let k = 0; k < power.length; k++) levels.push(Math.round(1000 * binLevelDbfs(plan, power[k]!)) / 1000);
  return levels;
}

/** Another silence is the same room: no wide part of its spectrum is more than 10 dB off. */
function alike(one: Float64Array, other: Float64Array): boolean {
  for (let from = 8; from < one.length; from *= 2) {
    const to = Math.min(one.length, from * 2);
    let a = 0;
    let b = 0;
    for (let k = from; k < to; k++) {
      a += one[k]!;
      b += other[k]!;
    }
    if (b > 10 * a + 1e-12 || a > 10 * b + 1e-12) return false;
  }
  return true;
}

function listen(
  sound: Sound,
  plan: FramePlan,
  spectra: WindowPower,
  stretch: Stretch,
  cancel: Cancel | undefined,
): Heard {
  const { size, hop, bins } = plan;
  const toFrame = Math.min(stretch.toFrame, stretch.fromFrame + Math.round(LONGEST_LISTEN_SEC * plan.rateHz));
  const length = toFrame - stretch.fromFrame;
  const frames = Math.max(1, Math.floor((length - size) / hop) + 1);
  const power = new Float64Array(bins);
  const swing = new BandSwing(plan);
  for (let f = 0; f < frames; f++) {
    throwIfCancelled(cancel);
    sound.read(stretch.fromFrame + f * hop, spectra.samples);
    spectra.run();
    addTo(power, spectra.power);
    swing.add(spectra.power);
  }
  for (let k = 0; k < bins; k++) power[k]! /= frames;
  return { power, swingDb: swing.largestDb };
}

/* What runs bin by bin is a small loop of its own: as part of `listen` the engine compiled it again and again. */

function addTo(sums: Float64Array, spectrum: Float32Array): void {
  for (let k = 0; k < sums.length; k++) sums[k]! += spectrum[k]!;
}

function sumOf(power: Float32Array, from: number, to: number): number {
  let sum = 1e-20;
  for (let k = from; k < to; k++) sum += power[k]!;
  return sum;
}

/** How far the levels in octaves from 250 Hz to 8 kHz, where music would be heard, move from frame to frame. */
class BandSwing {
  readonly #fromBins: number[] = [];
  readonly #lowDb: Float64Array;
  readonly #highDb: Float64Array;

  constructor({ rateHz, size }: FramePlan) {
    for (let lowHz = 250; lowHz < 8000 && lowHz * 2 < rateHz / 2; lowHz *= 2) {
      this.#fromBins.push(Math.round((lowHz * size) / rateHz));
    }
    this.#lowDb = new Float64Array(this.#fromBins.length).fill(Number.POSITIVE_INFINITY);
    this.#highDb = new Float64Array(this.#fromBins.length).fill(Number.NEGATIVE_INFINITY);
  }

  /** power: of a frame's bins. */
  add(power: Float32Array): void {
    for (let band = 0; band < this.#fromBins.length; band++) {
      const from = this.#fromBins[band]!;
      const levelDb = 10 * Math.log10(sumOf(power, from, 2 * from));
      this.#lowDb[band] = Math.min(this.#lowDb[band]!, levelDb);
      this.#highDb[band] = Math.max(this.#highDb[band]!, levelDb);
    }
  }

  /** Of the band that moves most, between its lowest and its highest level, dB. */
  get largestDb(): number {
    let largest = 0;
    for (let band = 0; band < this.#fromBins.length; band++) {
      largest = Math.max(largest, this.#highDb[band]! - this.#lowDb[band]!);
    }
    return largest;
  }
}

/** A running mean over the bins around, which leaves out the bins that stand out, and leaves those as they are. */
function smoothed(power: Float64Array): Float64Array {
  const count = power.length;
  const logs = new Float64Array(count);
  for (let k = 0; k < count; k++) logs[k] = Math.log(power[k]! + 1e-30);
  const out = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    const from = Math.max(0, k - SMOOTH_BINS);
    const to = Math.min(count - 1, k + SMOOTH_BINS);
    let log = 0;
    for (let j = from; j <= to; j++) log += logs[j]!;
    // Of n averaged bins the geometric mean lies a little under the true mean; three times it is surely a line.
    const limit = 2.5 * Math.exp(log / (to - from + 1));
    let sum = 0;
    let used = 0;
    for (let j = from; j <= to; j++) {
      if (power[j]! > limit) continue;
      sum += power[j]!;
      used++;
    }
    const edge = (k > 0 && power[k - 1]! > limit) || (k + 1 < count && power[k + 1]! > limit);
    out[k] = power[k]! > limit || edge || used === 0 ? power[k]! : sum / used;
  }
  return out;
}
