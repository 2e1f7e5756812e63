import type { Sound } from '../signal/sound.ts';
import { SlowStream } from './break-pulses.ts';
import { SlowCopy } from './slow-copy.ts';
import type { StepLikelihood } from './step-test.ts';

const RATE_HZ = 1000;
const MAINS_HZ = [50, 60] as const;
/** Four stretches so long, two before a moment and two after, s. */
const WINDOW_SEC = 1;
/** Frequencies beside the line that tell what else is there, Hz off. */
const BESIDE_HZ = [-8, -6.5, -5, 5, 6.5, 8] as const;
/** Hum stands so far over what lies beside, as a ratio of power, and its power changes by no more than this from stretch to stretch. */
const LEAST_OVER = 10;
const MOST_CHANGE = 2;
/** Mains keep their frequency within 0.1 Hz, and from second to second they turn alike; radians a stretch. */
const MOST_TURN = 2 * Math.PI * 0.1;
const MOST_UNEVEN = 0.45;
/** One standard deviation of a turn, radians, measured at 110 cuts of 11 sampled takes that hum: median of the errors 5 degrees. */
const TURN_ERROR = 0.14;
/** Share of lines that are none of the mains. */
const ASTRAY = 0.1;

interface Line {
  readonly re: number;
  readonly im: number;
  readonly power: number;
  readonly over: number;
}

/**
 * What the hum of the mains says for steps of a take's time at a moment, s of its own time, nepers over chance; undefined where none is heard.
 *
 * Hum goes on in rests and under attacks, and turns by 2 pi f d where d seconds are lost: over a second on either side that tells d to some 0.3 ms,
 * but for whole periods. So 20 ms are nothing to 50 Hz, and a fifth of a period past one to 60 Hz; it does not tell where the moment is.
 */
export function humAmount(sound: Sound, atSec: number): StepLikelihood | undefined {
  const slow = new SlowCopy(sound.rateHz, RATE_HZ);
  const count = Math.round(WINDOW_SEC * slow.rateHz);
  const heard = new Float64Array(4 * count);
  const stream = new SlowStream(sound, slow);
  stream.seek(Math.round(atSec * slow.rateHz) - 2 * count);
  stream.read(heard);
  for (const hz of MAINS_HZ) {
    const lines = [0, 1, 2, 3].map((n) => lineOf(heard, n * count, count, hz / slow.rateHz, slow.rateHz));
    const powers = lines.map(({ power }) => power);
    if (lines.some(({ over }) => over < LEAST_OVER) || Math.max(...powers) > MOST_CHANGE * Math.min(...powers))
      continue;
    const [first, before, after, last] = lines as [Line, Line, Line, Line];
    const [a, b] = [turnOf(first, before), turnOf(after, last)];
    if (Math.max(Math.abs(a), Math.abs(b)) > MOST_TURN || Math.abs(a - b) > MOST_UNEVEN) continue;
    const turn = turnOf(before, after) - 0.5 * (a + b);
    const sharp = 1 / (TURN_ERROR ** 2 + 0.25 * (a - b) ** 2);
    // Von Mises' density over the even one, narrow as it is.
    const peak = Math.sqrt(2 * Math.PI * sharp);
    return (stepSec) => {
      const off = turn + 2 * Math.PI * hz * stepSec;
      return Math.log((1 - ASTRAY) * peak * Math.exp(sharp * (Math.cos(off) - 1)) + ASTRAY);
    };
  }
  return undefined;
}

/** A line of a stretch, its phase by the clock of all stretches; frequency in turns a frame. */
function lineOf(heard: Float64Array, from: number, count: number, frequency: number, rateHz: number): Line {
  const { re, im } = sumAt(heard, from, count, frequency);
  const beside = BESIDE_HZ.map((off) => {
    const sum = sumAt(heard, from, count, frequency + off / rateHz);
    return sum.re ** 2 + sum.im ** 2;
  }).sort((one, other) => one - other);
  const power = re * re + im * im;
  return { re, im, power, over: power / (0.5 * (beside[2]! + beside[3]!) + 1e-20) };
}

/** Through Hann's window. */
function sumAt(heard: Float64Array, from: number, count: number, frequency: number): { re: number; im: number } {
  let re = 0;
  let im = 0;
  for (let n = 0; n < count; n++) {
    const value = heard[from + n]! * (0.5 - 0.5 * Math.cos((2 * Math.PI * (n + 0.5)) / count));
    const angle = -2 * Math.PI * frequency * (from + n);
    re += value * Math.cos(angle);
    im += value * Math.sin(angle);
  }
  return { re, im };
}

/** How far the phase of one line lies ahead of another's, radians, -pi to pi. */
function turnOf(one: Line, other: Line): number {
  return Math.atan2(other.im * one.re - other.re * one.im, other.re * one.re + other.im * one.im);
}
