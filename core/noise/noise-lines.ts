import type { FramePlan } from './frame-plan.ts';
import { binLevelDbfs, type NoiseLine } from './profile.ts';

/** A line must stand this far above the noise around it, power ratio (10 dB). */
const LINE_OVER_NOISE = 10;
/** Bins to each side in which the noise around a line is judged. */
const NEIGHBOURHOOD = 12;
/** How far the mains may be off 50 or 60 Hz, Hz. */
const MAINS_TOLERANCE_HZ = 0.3;
/** Fewest lines on multiples of the mains that make a hum. */
const FEWEST_HUM_LINES = 3;

/**
 * The steady tones in a mean power spectrum behind the square root of a Hann window: its narrow peaks.
 * Their frequencies come from the peak and its two neighbours (a parabola through their logarithms), good to about a
 * tenth of a bin. power: |X|^2 per bin.
 */
export function findLines(plan: FramePlan, power: Float64Array): { lines: NoiseLine[]; humHz: number | null } {
  const found: { hz: number; levelDbfs: number }[] = [];
  const around = new Float64Array(2 * (NEIGHBOURHOOD - 3));
  for (let k = 4; k < power.length - 4; k++) {
    const here = power[k]!;
    if (!(here > power[k - 1]! && here >= power[k + 1]!)) continue;
    let count = 0;
    for (let j = 4; j <= NEIGHBOURHOOD; j++) {
      around[count++] = power[Math.max(1, k - j)]!;
      around[count++] = power[Math.min(power.length - 2, k + j)]!;
    }
    around.sort();
    if (here < LINE_OVER_NOISE * around[count >> 1]!) continue;
    const left = Math.log(power[k - 1]! + 1e-300);
    const right = Math.log(power[k + 1]! + 1e-300);
    const curve = left + right - 2 * Math.log(here);
    const offset = curve < 0 ? (0.5 * (left - right)) / curve : 0;
    found.push({ hz: ((k + offset) * plan.rateHz) / plan.size, levelDbfs: binLevelDbfs(plan, here) });
  }
  const humHz = mainsOf(found, plan);
  const lines = found.map((line) => ({ ...line, hum: humHz !== null && isMultiple(line.hz, humHz, plan) }));
  return { lines, humHz };
}

function isMultiple(hz: number, mainsHz: number, plan: FramePlan): boolean {
  const order = Math.round(hz / mainsHz);
  const binHz = plan.rateHz / plan.size;
  return order >= 1 && order <= 40 && Math.abs(hz - order * mainsHz) < 0.2 * binHz + 0.002 * hz;
}

/** Near 50 or 60 Hz, the one with more lines on its multiples, refined by them; null when too few. */
function mainsOf(found: readonly { hz: number }[], plan: FramePlan): number | null {
  let best: number | null = null;
  let most = FEWEST_HUM_LINES - 1;
  for (const nominal of [50, 60]) {
    let count = 0;
    let weighed = 0;
    let weights = 0;
    for (const { hz } of found) {
      const order = Math.round(hz / nominal);
      if (!isMultiple(hz, nominal, plan) || Math.abs(hz / order - nominal) > MAINS_TOLERANCE_HZ + 1.2 / order) continue;
      count++;
      weighed += order * hz;
      weights += order * order;
    }
    if (count > most) {
      most = count;
      best = weighed / weights;
    }
  }
  return best;
}
