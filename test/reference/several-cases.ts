import { BiquadCascade, designBiquad } from '../../core/signal/biquad.ts';
import { Random } from '../../core/signal/random.ts';
import { inRoom, noisy, RATE_HZ } from '../core/pitch/pitch-kit.ts';
import type { Player } from './melody-cases.ts';
import { type Melody, type MelodyNote, playMelodies } from './sampled-melody.ts';

/** What is played: one voice, or two and three on the same instrument. `leak`: the second is heard out of headphones. */
export type Texture =
  | 'one'
  | 'thirds'
  | 'sixths'
  | 'fifths'
  | 'octaves'
  | 'chords'
  | 'two parts'
  | 'drone'
  | 'half doubled'
  | 'leak'
  | 'ringing';

export interface SeveralCase {
  readonly texture: Texture;
  readonly name: string;
  readonly melodies: readonly Melody[];
  /** Of each melody after the first, to the first's level, dB. */
  readonly levelsDb: readonly number[];
  readonly t60Sec: number;
  readonly directDb: number;
  readonly snrDb: number;
  /** A microphone that keeps back what is lower (24 dB an octave); null for one that does not. */
  readonly cutHz: number | null;
  readonly seed: number;
}

const START_SEC = 0.6;
/** Half tones of the degrees of a major scale over two octaves. */
const DEGREES = [0, 2, 4, 5, 7, 9, 11, 12, 14, 16, 17, 19, 21, 23, 24];
/** A broken chord over two octaves, up and down. */
const BROKEN = [0, 7, 12, 16, 19, 24, 19, 16, 0, 7, 12, 16, 19, 24, 19, 16];

/** One case. isCut: behind a microphone that keeps back what lies below 150 to 500 Hz. */
export function severalCase(
  one: Player,
  texture: Texture,
  seed: number,
  lengthSec: number,
  isCut = false,
): SeveralCase {
  const random = new Random(seed);
  const melodies = texture === 'ringing' ? [broken(one, random)] : voices(one, texture, random, lengthSec);
  const levelDb = (): number => (texture === 'leak' ? within(random, -38, -26) : within(random, -6, 3));
  return {
    texture,
    name: `${texture}, ${one.name}, seed ${seed}`,
    melodies,
    levelsDb: melodies.slice(1).map(levelDb),
    t60Sec: random.uniform() < 0.6 ? within(random, 0.25, 0.7) : within(random, 0.7, 1.8),
    directDb: within(random, 2, 8),
    snrDb: within(random, 15, 40),
    cutHz: isCut ? within(random, 150, 500) : null,
    seed,
  };
}

/** How each case sounds, mono at RATE_HZ. */
export function severalSounds(cases: readonly SeveralCase[], folder: string): Float32Array[] {
  const all = playMelodies(
    cases.flatMap((one) => one.melodies),
    folder,
    RATE_HZ,
  );
  let at = 0;
  return cases.map((one) => {
    const parts = all.slice(at, at + one.melodies.length);
    at += parts.length;
    const dry = mixed(parts, one.levelsDb);
    if (one.cutHz !== null) cutBelow(dry, one.cutHz);
    return noisy(inRoom(dry, one.t60Sec, one.directDb, one.seed + 1), one.snrDb, one.seed + 2);
  });
}

function within(random: Random, low: number, high: number): number {
  return low + (high - low) * random.uniform();
}

function broken(one: Player, random: Random): Melody {
  const stepSec = within(random, 0.2, 0.5);
  const key = Math.round(one.low + within(random, 0.1, 0.4) * (one.high - one.low));
  const notes = BROKEN.map((way, n) => {
    const fromSec = START_SEC + n * stepSec;
    return { fromSec, toSec: fromSec + 2.5, key: key + way, velocity: 85 };
  });
  return { program: one.program, notes };
}

/** A tune by steps of a scale, notes of 0.25 to 0.8 s, and what goes with it. */
function voices(one: Player, texture: Texture, random: Random, lengthSec: number): Melody[] {
  const stepSec = within(random, 0.25, 0.8);
  const count = Math.round(lengthSec / stepSec);
  const base = Math.round(one.low + within(random, 0.1, 0.4) * (one.high - one.low));
  const tune = walk(random, count, 0, 7);
  const keyOf = (degree: number): number => base + DEGREES[Math.max(0, Math.min(14, degree))]!;
  const noteOf = (n: number, key: number, steps = 1): MelodyNote => ({
    fromSec: START_SEC + n * stepSec,
    toSec: START_SEC + (n + 0.93 * steps) * stepSec,
    key,
    velocity: Math.round(within(random, 70, 100)),
  });
  const part = (notes: readonly MelodyNote[]): Melody => ({ program: one.program, notes });
  const first = part(tune.map((degree, n) => noteOf(n, keyOf(degree))));
  const above = (degrees: number): Melody => part(tune.map((degree, n) => noteOf(n, keyOf(degree + degrees))));
  const apart = (halfTones: number): Melody => part(tune.map((degree, n) => noteOf(n, keyOf(degree) + halfTones)));
  switch (texture) {
    case 'thirds':
      return [first, above(2)];
    case 'sixths':
      return [first, above(5)];
    case 'chords':
      return [first, above(2), above(4)];
    case 'fifths':
      return [first, apart(7)];
    case 'octaves':
      return [first, apart(12)];
    case 'half doubled':
      return [first, part(above(2).notes.filter((_, n) => n % 6 < 3))];
    case 'drone':
      return [first, part([noteOf(0, base - 5, count)])];
    case 'two parts':
    case 'leak':
      return [
        first,
        part(walk(random, Math.ceil(count / 2), 4, 12).map((degree, n) => noteOf(2 * n, keyOf(degree), 2))),
      ];
    default:
      return [first];
  }
}

function walk(random: Random, count: number, low: number, high: number): number[] {
  let degree = Math.round(within(random, low, high));
  return Array.from({ length: count }, () => {
    const here = degree;
    degree += [-2, -1, -1, 0, 1, 1, 2][Math.floor(7 * random.uniform())]!;
    if (degree < low) degree = low + 1;
    if (degree > high) degree = high - 1;
    return here;
  });
}

function mixed(parts: readonly Float32Array[], levelsDb: readonly number[]): Float32Array {
  const powerOf = (sound: Float32Array): number =>
    sound.reduce((sum, value) => sum + value * value, 1e-12) / sound.length;
  const mix = new Float32Array(Math.max(...parts.map((part) => part.length)));
  for (const [index, part] of parts.entries()) {
    const gain = index === 0 ? 1 : 10 ** (levelsDb[index - 1]! / 20) * Math.sqrt(powerOf(parts[0]!) / powerOf(part));
    for (let n = 0; n < part.length; n++) mix[n]! += gain * part[n]!;
  }
  return mix;
}

/** Butterworth of the fourth order, as two of the second. */
function cutBelow(sound: Float32Array, hz: number): void {
  new BiquadCascade([0.541, 1.307].map((q) => designBiquad({ kind: 'highPass', hz, q }, RATE_HZ))).process(sound);
}
