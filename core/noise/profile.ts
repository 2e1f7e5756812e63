import { type FramePlan, windowEnergy } from './frame-plan.ts';

/** The noise of one silence. */
export interface NoiseState {
  /** Middle of the silence, frames of the take. */
  readonly centreFrame: number;
  /** Frames that were listened to. */
  readonly lengthFrames: number;
  /** Level of the whole, dBFS (a full-scale sine is 0). */
  readonly levelDbfs: number;
  /** Mean power per bin, dBFS per bin: what a sine of that power in the bin would read. -200 stands for nothing. */
  readonly powerDbfs: readonly number[];
}

/** A steady tone in the noise: a line of the hum, or a whistle. */
export interface NoiseLine {
  readonly hz: number;
  readonly levelDbfs: number;
  /** Part of a mains hum: a multiple of about 50 or 60 Hz. */
  readonly hum: boolean;
}

/**
 * What was learnt from the silences of a take: plain data, to be kept as JSON.
 * Memory: some 4000 numbers a silence at 48 kHz.
 */
export interface NoiseProfile {
  readonly rateHz: number;
  /** Window of the transform the bins belong to; bin k lies at k * rateHz / size. */
  readonly size: number;
  /** In order of time; between two of them the noise is taken to change evenly in dB. */
  readonly states: readonly NoiseState[];
  readonly lines: readonly NoiseLine[];
  /** Frequency of the mains as heard, near 50 or 60 Hz; null without hum. */
  readonly humHz: number | null;
  /** Level where the noise was learnt, dBFS. */
  readonly levelDbfs: number;
}

/** dBFS of no power at all in a profile: JSON knows no -Infinity. */
export const NO_POWER_DBFS = -200;

/** Power |X|^2 of a bin that a full-scale sine on it has (peak of its main lobe). */
function fullScalePower(plan: Pick<FramePlan, 'size'>): number {
  return (plan.size / Math.PI) ** 2;
}

/** Level in dBFS of a bin's |X|^2 behind the analysis window. NO_POWER_DBFS at least. */
export function binLevelDbfs(plan: Pick<FramePlan, 'size'>, power: number): number {
  return power > 0 ? Math.max(NO_POWER_DBFS, 10 * Math.log10(power / fullScalePower(plan))) : NO_POWER_DBFS;
}

/** |X|^2 behind the analysis window of a level in dBFS. */
export function binPower(plan: Pick<FramePlan, 'size'>, levelDbfs: number): number {
  // The same as 10 to the power of a tenth, at a third of the cost.
  return levelDbfs <= NO_POWER_DBFS ? 0 : Math.exp((Math.LN10 / 10) * levelDbfs) * fullScalePower(plan);
}

/** Level in dBFS of the sound whose bins have these mean powers |X|^2. */
export function spectrumLevelDbfs(plan: FramePlan, power: Float64Array): number {
  let sum = 0;
  for (let k = 1; k < power.length - 1; k++) sum += power[k]!;
  sum += 0.5 * (power[0]! + power[power.length - 1]!);
  const meanSquare = (2 * sum) / (windowEnergy(plan) * plan.size);
  return binLevelDbfs({ size: Math.PI }, 2 * meanSquare);
}

/**
 * The noise's |X|^2 per bin at a moment of the take, written into `target` (bins of the profile).
 * Before the first silence and after the last the nearest one holds; between them it goes evenly in dB.
 */
export function noisePowerAt(profile: NoiseProfile, takeFrame: number, target: Float64Array): void {
  const states = profile.states;
  let after = 0;
  while (after < states.length && states[after]!.centreFrame < takeFrame) after++;
  const second = states[Math.min(after, states.length - 1)]!;
  const first = after === 0 ? second : states[after - 1]!;
  const span = second.centreFrame - first.centreFrame;
  const share = span > 0 ? (takeFrame - first.centreFrame) / span : 0;
  const from = first.powerDbfs;
  const to = second.powerDbfs;
  for (let k = 0; k < target.length; k++) target[k] = binPower(profile, from[k]! + share * (to[k]! - from[k]!));
}
