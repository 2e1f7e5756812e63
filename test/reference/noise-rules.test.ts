import { describe, expect, it } from 'vitest';
import { exponentialIntegral, scaledExponentialIntegral } from '../../core/noise/exponential-integral.ts';
import { fastLsaGain } from '../../core/noise/gain-estimator.ts';
import { gainRule, lsaGain, overSubtraction, subtractGain, wienerGain } from '../../core/noise/gain-rule.ts';
import { Random } from '../../core/signal/random.ts';

const POSTERIOR_DB = [-10, -5, 0, 5, 10, 15, 20];

// Check value CV-3.2: 20 log10 of the gain, from scipy's exp1, by prior ratio in dB and the posterior ratios above.
const LSA_DB: Record<string, number[]> = {
  '-25': [-17.5192, -22.5162, -27.5068, -32.4773, -37.3847, -42.0982, -46.2523],
  '-15': [-7.6287, -12.6, -17.5099, -22.231, -26.4062, -29.2671, -30.2183],
  '-10': [-2.8814, -7.7968, -12.5347, -16.7565, -19.7156, -20.7614, -20.8278],
  '-5': [1.4036, -3.3763, -7.7162, -10.9349, -12.2635, -12.3864, -12.3866],
  '0': [4.6973, 0.1433, -3.5895, -5.6353, -6.0156, -6.0206, -6.0206],
  '5': [6.6237, 2.2838, -0.9349, -2.2635, -2.3864, -2.3866, -2.3866],
  '10': [7.4653, 3.2435, 0.2844, -0.7614, -0.8278, -0.8279, -0.8279],
  '15': [7.769, 3.5938, 0.7329, -0.2183, -0.2704, -0.2704, -0.2704],
};
const WIENER_DB: Record<string, number> = {
  '-25': -50.0274,
  '-15': -30.2704,
  '-10': -20.8279,
  '-5': -12.3866,
  '0': -6.0206,
  '5': -2.3866,
  '10': -0.8279,
  '15': -0.2704,
};

describe('gain rules against tabulated values', () => {
  it.each(Object.entries(LSA_DB))('LSA at a prior of %s dB within 1e-4 dB (CV-3.2)', (priorDb, wanted) => {
    const prior = 10 ** (Number(priorDb) / 10);
    for (const [n, db] of wanted.entries()) {
      const posterior = 10 ** (POSTERIOR_DB[n]! / 10);
      expect(Math.abs(20 * Math.log10(lsaGain(prior, posterior)) - db)).toBeLessThan(1e-4);
      // The engines' rational form: within 1e-4 of the linear gain.
      expect(Math.abs(fastLsaGain(prior, posterior) / 10 ** (db / 20) - 1)).toBeLessThan(1e-4);
    }
    expect(Math.abs(20 * Math.log10(wienerGain(prior)) - WIENER_DB[priorDb]!)).toBeLessThan(1e-4);
  });

  it('LSA spot values within 1e-9 (CV-3.2)', () => {
    const spots = [
      [1, 1, 0.66149002],
      [1, 2, 0.557967137],
      [0.1, 1, 0.236191241],
      [10, 10, 0.909096028],
    ];
    for (const [prior, posterior, gain] of spots) expect(lsaGain(prior!, posterior!)).toBeCloseTo(gain!, 8);
  });

  it('is never below Wiener (CV-3.2)', () => {
    for (const prior of [0.01, 0.1, 1, 10, 100]) {
      for (const posterior of [0.1, 1, 10]) {
        expect(gainRule('lsa').gain(prior, posterior)).toBeGreaterThanOrEqual(
          gainRule('wiener').gain(prior, posterior),
        );
      }
    }
  });

  it('exponential integral E1 within 1e-9 of the table (CV-3.3)', () => {
    const table = [
      [0.01, 4.037929577],
      [0.1, 1.822923958],
      [0.5, 0.559773595],
      [1, 0.219383934],
      [1.5, 0.100019582],
      [2, 0.048900511],
      [5, 0.001148295591],
      [10, 0.00000415696892],
    ];
    for (const [x, value] of table) expect(Math.abs(exponentialIntegral(x!) - value!)).toBeLessThan(1e-9);
  });

  it('scaled exponential integral within 1e-5 from 1e-6 to 1e4', () => {
    for (let log = -6; log <= 4; log += 0.01) {
      const v = 10 ** log;
      const exact = v * Math.exp(exponentialIntegral(v));
      expect(Math.abs(scaledExponentialIntegral(v) / exact - 1)).toBeLessThan(1e-5);
    }
  });

  it('over-subtraction factors and gains (CV-3.1)', () => {
    const factors = [-10, -5, 0, 5, 10, 15, 20, 30].map(overSubtraction);
    expect(factors).toEqual([4.75, 4.75, 4, 3.25, 2.5, 1.75, 1, 1]);
    // Posterior ratio, then gains with a floor of 0.01 at -5, 0, 5, 10 and 20 dB.
    const rows = [
      [1, 0.1, 0.1, 0.1, 0.1, 0.1],
      [2, 0.070711, 0.070711, 0.070711, 0.070711, Math.SQRT1_2],
      [4, 0.05, 0.05, 0.433013, 0.612372, 0.866025],
      [10, 0.724569, 0.774597, 0.821584, 0.866025, 0.948683],
      [100, 0.975961, 0.979796, 0.983616, 0.987421, 0.994987],
    ];
    for (const [posterior, ...gains] of rows) {
      for (const [n, snrDb] of [-5, 0, 5, 10, 20].entries()) {
        expect(subtractGain(posterior!, overSubtraction(snrDb), 0.01)).toBeCloseTo(gains[n]!, 6);
      }
    }
  });
});

describe('statistics of noise', () => {
  const random = new Random(3105);
  const powers = Float64Array.from({ length: 400_000 }, () => -Math.log(1 - random.uniform()));

  it('mean, mean log and median of exponential powers (CV-3.4)', () => {
    const mean = powers.reduce((sum, p) => sum + p, 0) / powers.length;
    const meanLog = powers.reduce((sum, p) => sum + 10 * Math.log10(p), 0) / powers.length;
    // 400 000 draws: standard errors 0.0016 and 0.009 dB.
    expect(Math.abs(mean - 1)).toBeLessThan(0.01);
    expect(Math.abs(meanLog + 2.5068)).toBeLessThan(0.05);
    expect(Math.abs(powers.toSorted()[powers.length / 2]! - Math.LN2)).toBeLessThan(0.01);
  });

  it('kurtosis ratio of plain power subtraction is e to the factor (CV-3.5)', () => {
    const kurtosis = (values: Float64Array): number => {
      const second = values.reduce((sum, p) => sum + p ** 2, 0);
      const fourth = values.reduce((sum, p) => sum + p ** 4, 0);
      return (fourth * values.length) / second ** 2;
    };
    // Fourth moments of exponentials spread: 10 % at this count.
    expect(Math.abs(kurtosis(powers) / 6 - 1)).toBeLessThan(0.1);
    for (const factor of [0.5, 1]) {
      const left = powers.map((p) => Math.max(0, p - factor));
      expect(Math.abs(kurtosis(left) / kurtosis(powers) / Math.exp(factor) - 1)).toBeLessThan(0.1);
    }
  });
});
