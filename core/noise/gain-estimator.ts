import { scaledExponentialIntegral } from './exponential-integral.ts';
import type { FramePlan } from './frame-plan.ts';
import { AHEAD_FRAMES, CHUNK_FRAMES } from './frame-plan.ts';
import { gainRule } from './gain-rule.ts';
import type { CleanSettings } from './settings.ts';

/**
 * Gains of a chunk of frames from the powers around it, in both directions of time.
 *
 * The prior ratio is estimated decision-directed (Ephraim and Malah 1984, eq. 51) forward from the frames before and
 * backward from AHEAD_FRAMES frames behind, so that an attack is known before it comes and a tail before it ends; the two
 * are averaged as amplitudes, refined by a second step (Plapous, Marro and Scalart 2006), smoothed over neighbouring
 * bins where partials are far apart, and given to the rule. Gains have a floor, so noise keeps its colour.
 */
export class GainEstimator {
  readonly #bins: number;
  readonly #settings: CleanSettings;
  readonly #forward: Float64Array;
  readonly #backward: Float64Array;
  readonly #prior: Float64Array;
  readonly #refined: Float64Array;
  readonly #across: Float64Array;
  readonly #lastFrameForward: Float64Array;

  constructor(plan: FramePlan, settings: CleanSettings) {
    this.#bins = plan.bins;
    this.#settings = settings;
    this.#forward = new Float64Array(plan.bins);
    this.#lastFrameForward = new Float64Array(plan.bins);
    this.#backward = new Float64Array(plan.bins * CHUNK_FRAMES);
    this.#prior = new Float64Array(plan.bins);
    this.#refined = new Float64Array(plan.bins);
    this.#across = acrossShare(plan);
  }

  reset(): void {
    this.#forward.fill(0);
  }

  /**
   * power: CHUNK_FRAMES + AHEAD_FRAMES frames of |X|^2; inverseNoise: 1 / noise power per bin; gains: one array per frame
   * of the chunk, overwritten.
   */
  run(power: readonly Float64Array[], inverseNoise: Float64Array, gains: readonly Float64Array[]): void {
    this.#runBackward(power, inverseNoise);
    for (let f = 0; f < CHUNK_FRAMES; f++) this.#frame(f, power[f]!, inverseNoise, gains[f]!);
  }

  #runBackward(power: readonly Float64Array[], inverseNoise: Float64Array): void {
    const bins = this.#bins;
    const { steadiness } = this.#settings;
    const floor = 10 ** (this.#settings.priorFloorDb / 10);
    const state = this.#lastFrameForward.fill(0);
    for (let f = CHUNK_FRAMES + AHEAD_FRAMES - 1; f >= 0; f--) {
      if (f < CHUNK_FRAMES) this.#backward.set(state, f * bins);
      stepPrior(power[f]!, inverseNoise, state, steadiness, floor);
    }
  }

  #frame(f: number, power: Float64Array, inverseNoise: Float64Array, gain: Float64Array): void {
    const bins = this.#bins;
    const { steadiness, rule, reductionDb } = this.#settings;
    const floor = 10 ** (this.#settings.priorFloorDb / 10);
    const prior = this.#prior;
    const forward = this.#forward;
    const backward = this.#backward;
    for (let k = 0; k < bins; k++) {
      const posterior = power[k]! * inverseNoise[k]!;
      const before = forward[k]!;
      const behind = backward[f * bins + k]!;
      const both = 0.25 * (before + behind) + 0.5 * Math.sqrt(before * behind);
      const first = Math.max(steadiness * both + (1 - steadiness) * Math.max(posterior - 1, 0), floor);
      const wiener = first / (1 + first);
      prior[k] = wiener * wiener * posterior;
    }
    stepPrior(power, inverseNoise, forward, steadiness, floor);
    this.#smoothAcross(floor);
    const least = 10 ** (-reductionDb / 20);
    if (rule === 'lsa') lsaGains(power, inverseNoise, this.#refined, least, gain);
    else plainGains(rule, power, inverseNoise, this.#refined, least, gain);
  }

  #smoothAcross(floor: number): void {
    const bins = this.#bins;
    const prior = this.#prior;
    const refined = this.#refined;
    const across = this.#across;
    refined[0] = Math.max(prior[0]!, floor);
    refined[bins - 1] = Math.max(prior[bins - 1]!, floor);
    for (let k = 1; k < bins - 1; k++) {
      const here = prior[k]!;
      const smooth = 0.25 * (prior[k - 1]! + prior[k + 1]!) - 0.5 * here;
      refined[k] = Math.max(here + across[k]! * smooth, floor);
    }
  }
}

/** One step of the decision-directed recursion with the Wiener gain: state becomes the music's power over the noise's. */
function stepPrior(
  power: Float64Array,
  inverseNoise: Float64Array,
  state: Float64Array,
  steadiness: number,
  floor: number,
): void {
  for (let k = 0; k < state.length; k++) {
    const posterior = power[k]! * inverseNoise[k]!;
    const prior = Math.max(steadiness * state[k]! + (1 - steadiness) * Math.max(posterior - 1, 0), floor);
    const wiener = prior / (1 + prior);
    state[k] = wiener * wiener * posterior;
  }
}

function lsaGains(
  power: Float64Array,
  inverseNoise: Float64Array,
  prior: Float64Array,
  least: number,
  gain: Float64Array,
): void {
  for (let k = 0; k < gain.length; k++) {
    const wiener = prior[k]! / (1 + prior[k]!);
    const v = Math.max(wiener * power[k]! * inverseNoise[k]!, 1e-9);
    const value = wiener * Math.sqrt(scaledExponentialIntegral(v) / v);
    gain[k] = Math.min(1, Math.max(least, value));
  }
}

function plainGains(
  name: 'wiener' | 'subtract',
  power: Float64Array,
  inverseNoise: Float64Array,
  prior: Float64Array,
  least: number,
  gain: Float64Array,
): void {
  const rule = gainRule(name);
  for (let k = 0; k < gain.length; k++) {
    gain[k] = Math.min(1, Math.max(least, rule.gain(prior[k]!, power[k]! * inverseNoise[k]!)));
  }
}

/** Below this the partials of low voices may lie in neighbouring bins, Hz. */
const ACROSS_FROM_HZ = 800;
const ACROSS_FULL_HZ = 2500;

/** How much of the neighbours' prior a bin takes over, 0 to 1: above some kHz partials are wide and far apart. */
export function acrossShare(plan: FramePlan): Float64Array {
  const share = new Float64Array(plan.bins);
  for (let k = 0; k < plan.bins; k++) {
    const hz = (k * plan.rateHz) / plan.size;
    share[k] = Math.min(1, Math.max(0, (hz - ACROSS_FROM_HZ) / (ACROSS_FULL_HZ - ACROSS_FROM_HZ)));
  }
  return share;
}
