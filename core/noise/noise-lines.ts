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
  for (let k = nextLine(power, 4); k >= 0; k = nextLine(power, k + 1)) {
    const here = power[k]!;
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

/** The next peak from a bin on that stands out over the middle one of its neighbours, -1 where there is none. */
function nextLine(power: Float64Array, from: number): number {
  const last = power.length - 2;
  for (let k = from; k < power.length - 4; k++) {
    const here = power[k]!;
    if (!(here > power[k - 1]! && here >= power[k + 1]!)) continue;
    // The middle one is too high where half of them are, which tells it without sorting them.
    let high = 0;
    for (let j = 4; j <= NEIGHBOURHOOD; j++) {
      if (here < LINE_OVER_NOISE * power[Math.max(1, k - j)]!) high++;
      if (here < LINE_OVER_NOISE * power[Math.min(last, k + j)]!) high++;
    }
    if (high < NEIGHBOURHOOD - 3) return k;
  }
  return -1;
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
