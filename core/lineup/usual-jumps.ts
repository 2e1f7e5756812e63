import { BLEED_REACH_SEC, LAG_HZ } from './bleed-rows.ts';
import type { StepLikelihood } from './step-test.ts';

/** Jumps are asked for at as many lags to either side, LAG_HZ a second. */
export const REACH = BLEED_REACH_SEC * LAG_HZ;
export const WIDTH = 2 * REACH + 1;
/**
 * Recorders work in buffers of 256 to 2048 frames, 5 to 45 ms (from memory), most often about 20, so that a size d has the weight
 * d exp(-d / 12 ms).
 */
const JUMP_SPREAD_SEC = 0.012;
/**
 * Half of all jumps are whole buffers (common practice, no source): 10 or 20 ms, or 256, 512 or 1024 frames at 44.1 or 48 kHz, and as much
 * twice and three times; known to this, s.
 */
const WHOLE_LIKELY = 0.5;
const BUFFERS_SEC = [0.01, 0.02, ...[44100, 48000].flatMap((hz) => [256, 512, 1024].map((frames) => frames / hz))];
const WHOLE_BUFFERS_SEC = BUFFERS_SEC.flatMap((size) => [size, 2 * size, 3 * size]);
const WHOLE_WITHIN_SEC = 0.0002;
/** Smaller jumps are lobes of the correlation or none, s. */
const LEAST_JUMP_SEC = 0.001;

/** How usual a jump by each lag is; 0 for one that is none. */
export const USUAL = usualJumps();

function usualJumps(): Float64Array {
  const offs = Float64Array.from({ length: WIDTH }, (_, lag) => Math.abs((lag - REACH) / LAG_HZ));
  const any = offs.map((off) =>
    off < LEAST_JUMP_SEC ? 0 : (off / JUMP_SPREAD_SEC) * Math.exp(-(off / JUMP_SPREAD_SEC)),
  );
  const whole = any.map((one, lag) => {
    const near = WHOLE_BUFFERS_SEC.some((size) => Math.abs(offs[lag]! - size) <= WHOLE_WITHIN_SEC);
    return near ? one : 0;
  });
  const [allOfAny, allOfWhole] = [sumOf(any), sumOf(whole)];
  return any.map((one, lag) => (1 - WHOLE_LIKELY) * (one / allOfAny) + WHOLE_LIKELY * (whole[lag]! / allOfWhole));
}

/**
 * The wave's word on the amount only shares out what its break is worth, and all amounts alike where it is astray. Beside leakage, which
 * tells the amount itself, it is not asked.
 */
export function usualBy(amount: StepLikelihood, astray: number): Float64Array {
  const heard = Float64Array.from(USUAL, (_, lag) => amount((lag - REACH) / LAG_HZ));
  let loudest = Number.NEGATIVE_INFINITY;
  for (let lag = 0; lag < WIDTH; lag++) loudest = Math.max(loudest, heard[lag]!);
  const told = Float64Array.from(USUAL, (one, lag) => one * Math.exp(heard[lag]! - loudest));
  const sum = sumOf(told);
  if (sum > 0) {
    const all = sumOf(USUAL);
    for (let lag = 0; lag < WIDTH; lag++) {
      told[lag] = (1 - astray) * (told[lag]! / sum) + astray * (USUAL[lag]! / all);
    }
  }
  return told;
}

function sumOf(row: Float64Array): number {
  let sum = 0;
  for (let n = 0; n < row.length; n++) sum += row[n]!;
  return sum;
}
