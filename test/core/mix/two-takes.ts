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
const SINE = Float64Array.from({ length: 65_537 }, (_, n) => Math.sin((2 * Math.PI * n) / 65_536));

/** The same noise for all, from a place of its own each: 7 s of it. */
const noiseRandom = new Random(99);
const NOISE = Float32Array.from({ length: 7 * RATE_HZ }, () => noiseRandom.gaussian());

/** From a table, since a melody is made of millions; exact to 1e-9. */
function sine(turns: number): number {
  const place = (turns - Math.floor(turns)) * 65_536;
  const n = Math.floor(place);
  return SINE[n]! + (place - n) * (SINE[n + 1]! - SINE[n]!);
}

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
    for (let n = 0; n < frames && from + n < clean.length; n++) {
      const sec = n / RATE_HZ;
      const rise = Math.min(1, sec / 0.015);
      const fall = Math.min(1, Math.max(0, (note.lengthSec + 0.06 - sec) / 0.06));
      let wave = 0;
      for (let k = 1; k <= PARTIALS; k++) wave += sine(k * hz * sec + turns[k - 1]!) / k;
      const gain = 10 ** ((gainDb + swellDb(atSec + sec)) / 20);
      if (from + n >= 0) clean[from + n]! += gain * wave * rise * fall * Math.exp(-sec / 3);
    }
  }
  const at = Math.floor(NOISE.length * random.uniform());
  const noisy = clean.map((value, n) => value + noiseGain * NOISE[(at + n) % NOISE.length]!);
  return { sound: soundOf(noisy, RATE_HZ), clean: soundOf(clean, RATE_HZ), gainDb, swellDb, beginningsSec };
}
