import type { RenderView } from '../../../app/shell/contract/desk-view.ts';
import { change, clock, figure } from '../../parts/numbers.ts';

type Measured = Pick<
  RenderView,
  'integratedLufs' | 'truePeakDbtp' | 'targetLufs' | 'ceilingDbtp' | 'limiterMaxDb' | 'shortTermLufs'
>;

/** Closer than this the target is met, LU. */
const MET_LU = 0.1;
/** More than this the limiter is heard, dB. */
const HARD_DB = 6;
/** The curve has a value each so many seconds. */
export const CURVE_STEP_SEC = 0.5;

/** How the mix came out, in one or two sentences. */
export function resultSentence(render: Measured): string {
  const { integratedLufs, targetLufs, truePeakDbtp, ceilingDbtp, limiterMaxDb } = render;
  if (integratedLufs === null || truePeakDbtp === null) return 'The mix is silent.';
  const away = integratedLufs - targetLufs;
  const met =
    Math.abs(away) <= MET_LU
      ? `It has the loudness you asked for, ${figure(targetLufs)} LUFS`
      : `It is ${figure(Math.abs(away))} LU ${away < 0 ? 'softer' : 'louder'} than the ${figure(targetLufs)} LUFS you asked for`;
  const peak =
    truePeakDbtp <= ceilingDbtp + 0.05
      ? ` and never passes the ceiling of ${figure(ceilingDbtp)} dBTP.`
      : `, and passes the ceiling by ${figure(truePeakDbtp - ceilingDbtp)} dB.`;
  const hard =
    limiterMaxDb > HARD_DB
      ? ` The limiter turned it down by up to ${figure(limiterMaxDb)} dB; a target some LU lower would keep more of the attacks.`
      : '';
  return met + peak + hard;
}

/** The true peak of a stem, dBTP, for its line in the list: null where it is silent. */
export function stemPeakWords(truePeakDbtp: number | null): string {
  return truePeakDbtp === null ? 'silent' : `true peak ${change(truePeakDbtp)} dBTP`;
}

/** The loudness curve in a sentence. */
export function curveSentence(values: readonly (number | null)[], targetLufs: number): string {
  let loudest = -1;
  values.forEach((value, at) => {
    if (value === null) return;
    if (loudest < 0 || value > values[loudest]!) loudest = at;
  });
  if (loudest < 0) return 'There is no sound in it.';
  return (
    `Loudest at ${clock(loudest * CURVE_STEP_SEC, 0)} with ${figure(values[loudest])} LUFS; ` +
    `the target is ${figure(targetLufs)} LUFS.`
  );
}

/** The range of the curve's upright axis, LUFS, in steps of 5, at most 35 below the top. */
export function curveRange(values: readonly (number | null)[], targetLufs: number): { low: number; high: number } {
  const there = values.filter((value): value is number => value !== null && Number.isFinite(value));
  const high = Math.ceil((Math.max(targetLufs, ...there) + 1) / 5) * 5;
  const low = Math.floor((Math.min(targetLufs, ...there) - 1) / 5) * 5;
  return { low: Math.max(low, high - 35), high };
}
