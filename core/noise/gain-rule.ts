import { exponentialIntegral } from './exponential-integral.ts';

/** The rules of the literature by which a bin is attenuated. */
export type RuleName = 'lsa' | 'wiener' | 'subtract';

/**
 * One bin's gain on the amplitude, from two ratios of power (linear, not dB): `prior`, the music's power over the
 * noise's as estimated from the neighbourhood, and `posterior`, the bin's own power over the noise's.
 * Out: linear gain, 0 and more; may pass 1 for a very small posterior ratio (users clamp).
 */
export interface GainRule {
  readonly name: RuleName;
  gain(prior: number, posterior: number): number;
}

/** Minimum mean-square error of the log-spectral amplitude. Source: Ephraim and Malah 1985, eq. 20. */
export function lsaGain(prior: number, posterior: number): number {
  const wiener = prior / (1 + prior);
  return wiener * Math.exp(0.5 * exponentialIntegral(wiener * posterior));
}

/** Wiener gain, prior / (1 + prior): the least squared error. */
export function wienerGain(prior: number): number {
  return prior / (1 + prior);
}

/**
 * Over-subtraction factor for a signal-to-noise ratio in dB: 4.75 at -5 dB and below, 1 at 20 dB and above.
 * Source: Berouti, Schwartz and Makhoul 1979, section 3, with a factor of 4 at 0 dB; the line is held at 1 from 20 dB.
 */
export function overSubtraction(snrDb: number): number {
  return snrDb >= 20 ? 1 : 4 - (3 / 20) * Math.max(-5, snrDb);
}

/**
 * Power spectral subtraction with over-subtraction and a spectral floor.
 * posterior: power over noise power; factor: see `overSubtraction`; floor: share of the noise power left, linear.
 * Source: Berouti, Schwartz and Makhoul 1979, eq. 1.
 */
export function subtractGain(posterior: number, factor: number, floor: number): number {
  const left = posterior - factor;
  return Math.sqrt(Math.max(left, floor) / posterior);
}

/** Share of the noise power that the subtract rule leaves in a bin before the cleaner's own floor applies. */
export const SUBTRACT_FLOOR = 0.001;

const RULES: Record<RuleName, GainRule> = {
  lsa: { name: 'lsa', gain: lsaGain },
  wiener: { name: 'wiener', gain: (prior) => wienerGain(prior) },
  subtract: {
    name: 'subtract',
    // The smoothed ratio 1 + prior stands for the posterior one, which would flicker.
    gain: (prior) => subtractGain(1 + prior, overSubtraction(10 * Math.log10(prior)), SUBTRACT_FLOOR),
  },
};

/** The rule of a name. */
export function gainRule(name: RuleName): GainRule {
  return RULES[name];
}
