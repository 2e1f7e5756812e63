import { Random } from '../../../core/signal/random.ts';
import { type Sound, soundOf } from '../../../core/signal/sound.ts';

export const RATE_HZ = 48000;

/** A take of the melody as it was played: with the noise of its room, and without. */
export interface PlayedTake {
  readonly sound: Sound;
  readonly clean: Sound;
  /** How loud it was played and recorded, dB; a slow swell comes on top. */
  readonly gainDb: number;
  readonly swellDb: (atSec: number) => number;
  readonly beginningsSec: readonly number[];
}

export interface MelodyNote {
  readonly atSec: number;
  readonly lengthSec: number;
  readonly hz: number;
}

const PARTIALS = 8;
/** Loudness is reckoned this often, frames, and runs evenly between. */
const GAIN_FRAMES = 64;

/** The same noise for all, from a place of its own each: 7 s of it. */
const noiseRandom = new Random(99);
const NOISE = Float32Array.from({ length: 7 * RATE_HZ }, () => noiseRandom.gaussian());

/** A melody of detached and tied notes with some rests. */
export function melodyOf(random: Random, lengthSec: number): MelodyNote[] {
  const notes: MelodyNote[] = [];
  let atSec = 0.3;
  while (atSec < lengthSec - 1.5) {
    const beatSec = [0.25, 0.5, 0.5, 1, 1.5][Math.floor(random.uniform() * 5)]!;
    const isRest = random.uniform() < 0.15;
    const isTied = random.uniform() < 0.5;
    const hz = 220 * 2 ** (Math.floor(random.uniform() * 20) / 12);
    if (!isRest) notes.push({ atSec, lengthSec: isTied ? beatSec : beatSec * 0.8, hz });
    atSec += beatSec;
  }
  return notes;
}

/** One playing of the melody: every note a little early or late, its own level, swell, tuning and noise. */
export function played(random: Random, notes: readonly MelodyNote[], lengthSec: number): PlayedTake {
  const gainDb = -20 + 12 * (random.uniform() - 0.5);
  const swellPhase = 2 * Math.PI * random.uniform();
  const swellDb = (atSec: number): number => 1.5 * Math.sin((2 * Math.PI * atSec) / 15 + swellPhase);
  const noiseGain = 10 ** ((gainDb - 38 - 10 * random.uniform()) / 20);
  const clean = new Float32Array(Math.round(lengthSec * RATE_HZ));
  const beginningsSec: number[] = [];
  for (const note of notes) {
    const atSec = note.atSec + 0.012 * random.gaussian();
    beginningsSec.push(atSec);
    const hz = note.hz * 2 ** ((4 * random.gaussian()) / 1200);
    const from = Math.round(atSec * RATE_HZ);
    const frames = Math.round((note.lengthSec + 0.06) * RATE_HZ);
    const turns = Array.from({ length: PARTIALS }, () => random.uniform());
    const ofSin = Float64Array.from(turns, (turn, k) => Math.cos(2 * Math.PI * turn) / (k + 1));
    const ofCos = Float64Array.from(turns, (turn, k) => Math.sin(2 * Math.PI * turn) / (k + 1));
    const gainAt = (sec: number): number => 10 ** ((gainDb + swellDb(atSec + sec)) / 20) * Math.exp(-sec / 3);
    for (let n = 0; n < frames; n += GAIN_FRAMES) {
      const part = { from: n, to: Math.min(frames, n + GAIN_FRAMES), lengthSec: note.lengthSec };
      addPart(clean, from, part, hz, ofSin, ofCos, gainAt(n / RATE_HZ), gainAt((n + GAIN_FRAMES) / RATE_HZ));
    }
  }
  const at = Math.floor(NOISE.length * random.uniform());
  const noisy = clean.slice();
  for (let n = 0; n < noisy.length; n++) noisy[n] = noisy[n]! + noiseGain * NOISE[(at + n) % NOISE.length]!;
  return { sound: soundOf(noisy, RATE_HZ), clean: soundOf(clean, RATE_HZ), gainDb, swellDb, beginningsSec };
}

/**
 * Adds a stretch of a note that begins at frame `noteFrom`; gains at its two ends. The partials, each with a phase of its own, are summed by
 * Clenshaw's recurrence (Clenshaw, Math. Comp. 9, 1955), and the angle turns on: sines of each took 19 s of processor time more.
 */
function addPart(
  to: Float32Array,
  noteFrom: number,
  part: { readonly from: number; readonly to: number; readonly lengthSec: number },
  hz: number,
  ofSin: Float64Array,
  ofCos: Float64Array,
  firstGain: number,
  lastGain: number,
): void {
  const step = (2 * Math.PI * hz) / RATE_HZ;
  const [stepSin, stepCos] = [Math.sin(step), Math.cos(step)];
  let sin = Math.sin(step * part.from);
  let cos = Math.cos(step * part.from);
  for (let n = part.from; n < part.to; n++) {
    const at = noteFrom + n;
    if (at >= 0 && at < to.length) {
      const sec = n / RATE_HZ;
      const edge = Math.min(1, sec / 0.015) * Math.min(1, Math.max(0, (part.lengthSec + 0.06 - sec) / 0.06));
      const gain = firstGain + ((lastGain - firstGain) * (n - part.from)) / GAIN_FRAMES;
      to[at] = to[at]! + gain * edge * partialSum(ofSin, ofCos, sin, cos);
    }
    const next = sin * stepCos + cos * stepSin;
    cos = cos * stepCos - sin * stepSin;
    sin = next;
  }
}

/** Sum over k of ofSin[k - 1] sin(k a) + ofCos[k - 1] cos(k a), from the sine and cosine of a. */
function partialSum(ofSin: Float64Array, ofCos: Float64Array, sin: number, cos: number): number {
  const twice = 2 * cos;
  let s1 = 0;
  let s2 = 0;
  let c1 = 0;
  let c2 = 0;
  for (let k = PARTIALS - 1; k >= 0; k--) {
    const s = ofSin[k]! + twice * s1 - s2;
    const c = ofCos[k]! + twice * c1 - c2;
    s2 = s1;
    s1 = s;
    c2 = c1;
    c1 = c;
  }
  return s1 * sin + c1 * cos - c2;
}
