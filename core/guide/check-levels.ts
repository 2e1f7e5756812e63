import type { CheckInput, FigureInput } from './check-input.ts';
import { CHECK_STEPS_PER_SEC } from './check-meter.ts';

/*
 * Common practice, no source; set on takes with known faults.
 */
const PUMPING_DB = 5;
/** Music stands at least this far above the noise, dB. */
const MUSIC_ABOVE_DB = 10;
/** A clap and its echo, s. */
const CLAP_BEFORE_SEC = 0.1;
const CLAP_AFTER_SEC = 0.6;

/** Levels of the music of a trial take, dBFS: a full-scale sine is 0. */
export interface Levels {
  readonly peakDbfs: number;
  readonly loudestDbfs: number;
  readonly musicDbfs: number;
  readonly snrDb: number | null;
}

/** Measures them: what lies well above the noise and is no clap. */
export function levelsOf({ curves, noiseDbfs, clap }: FigureInput): Levels {
  const { power, peak, stepSec } = curves;
  const floor = noiseDbfs === null ? 1e-9 : 10 ** ((noiseDbfs + MUSIC_ABOVE_DB) / 10) / 2;
  const clapFrom = clap === null ? Number.POSITIVE_INFINITY : clap.atSec - CLAP_BEFORE_SEC;
  const clapTo = clap === null ? Number.NEGATIVE_INFINITY : clap.atSec + CLAP_AFTER_SEC;
  const loud = new Float64Array(power.length);
  let count = 0;
  let most = 0;
  let loudest = 0;
  for (let step = 0; step < power.length; step++) {
    const here = power[step]!;
    const sec = step * stepSec;
    if (!(here > floor) || (sec > clapFrom && sec < clapTo)) continue;
    loud[count++] = here;
    most = Math.max(most, peak[step]!);
    let sum = 0;
    for (let n = step; n < Math.min(power.length, step + 8); n++) sum += power[n]!;
    loudest = Math.max(loudest, sum / 8);
  }
  // The level of the music: the mean of its louder half, as a gated loudness would have it.
  const sorted = loud.subarray(0, count).sort();
  const half = count >> 1;
  let sum = 0;
  for (let n = half; n < count; n++) sum += sorted[n]!;
  const musicDbfs = dbfs(sum / Math.max(1, count - half));
  return {
    peakDbfs: 20 * Math.log10(most),
    loudestDbfs: dbfs(loudest),
    musicDbfs,
    snrDb: noiseDbfs === null || count < 10 ? null : musicDbfs - noiseDbfs,
  };
}

/** dBFS of a mean square: a full-scale sine is 0. */
function dbfs(meanSquare: number): number {
  return 10 * Math.log10(2 * meanSquare);
}

/** Share of the take in which the lowest band carries more than all the rest, above the noise of the room. */
export function rumbleOf(input: CheckInput): number | undefined {
  const { power, lowPower } = input.curves;
  let count = 0;
  for (let step = 0; step < power.length; step++) {
    const rest = power[step]! - lowPower[step]!;
    if (dbfs(lowPower[step]!) > -52 && lowPower[step]! > 3 * Math.max(rest, 1e-12)) count++;
  }
  const share = count / Math.max(1, power.length);
  return share > 0.02 && count >= 6 ? share : undefined;
}

/**
 * How far the quietest third of a second of the take lies under its steady beginning, above 2 kHz, dB: a room's noise does not
 * fall once somebody has played; under an automatic gain it does. Undefined where it does not fall, or where the take does not
 * begin with a steady second well below the music.
 */
export function pumpingOf(input: CheckInput, levels: Levels): number | undefined {
  const { brightPower, power, stepSec } = input.curves;
  const begin = steadyBeginning(brightPower, power, levels.musicDbfs);
  if (begin === undefined || begin < 1e-11) return undefined;
  const window = Math.round(0.35 / stepSec);
  let least = Number.POSITIVE_INFINITY;
  for (let step = 0; step + window <= brightPower.length; step++) {
    const here = mean(brightPower, step, step + window);
    if (here > 1e-12) least = Math.min(least, here);
  }
  const dropDb = 10 * Math.log10(begin / least);
  return Number.isFinite(dropDb) && dropDb > PUMPING_DB ? dropDb : undefined;
}

/** Mean of the bright power over the first second that is steady to 4 dB and lies 6 dB below the music. */
function steadyBeginning(bright: Float32Array, power: Float32Array, musicDbfs: number): number | undefined {
  const second = CHECK_STEPS_PER_SEC;
  const last = Math.min(bright.length - second, 6 * second);
  for (let from = Math.round(0.3 * second); from < last; from++) {
    let low = Number.POSITIVE_INFINITY;
    let high = 0;
    for (let step = from; step + 3 <= from + second; step++) {
      const here = mean(bright, step, step + 3);
      low = Math.min(low, here);
      high = Math.max(high, here);
    }
    if (high < 2.5 * low && dbfs(mean(power, from, from + second)) < musicDbfs - 6)
      return mean(bright, from, from + second);
  }
  return undefined;
}

function mean(values: Float32Array, from: number, to: number): number {
  let sum = 0;
  for (let step = from; step < to; step++) sum += values[step]!;
  return sum / Math.max(1, to - from);
}
