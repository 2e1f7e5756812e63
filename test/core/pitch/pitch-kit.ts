import { instrumentOf } from '../../../core/guide/instrument.ts';
import { PartPlayer } from '../../../core/guide/mock-up.ts';
import type { SoundFamily } from '../../../core/guide/score.ts';
import { type PitchTrack, PitchTracker } from '../../../core/pitch/pitch-tracker.ts';
import { Random } from '../../../core/signal/random.ts';
import { convolved } from '../../convolved.ts';

export const RATE_HZ = 24000;

export interface TestNote {
  readonly fromSec: number;
  readonly toSec: number;
  readonly key: number;
  /** Off the equal temperament at A4 = 440 Hz. */
  readonly cents: number;
}

export function hzOfKey(key: number, cents = 0): number {
  return 440 * 2 ** ((key - 69 + cents / 100) / 12);
}

/** Notes played one after the other, each `noteSec` long with `gapSec` before the next, from 0.5 s on. */
export function row(keys: readonly number[], noteSec: number, gapSec: number, cents: (index: number) => number) {
  return keys.map((key, index): TestNote => {
    const fromSec = 0.5 + index * (noteSec + gapSec);
    return { fromSec, toSec: fromSec + noteSec, key, cents: cents(index) };
  });
}

/** Plays notes on one of the mock-up's instruments. */
export function played(
  notes: readonly TestNote[],
  family: SoundFamily,
  rateHz = RATE_HZ,
  lengthSec?: number,
): Float32Array {
  const end = lengthSec ?? Math.max(...notes.map((note) => note.toSec)) + 0.8;
  const sound = new Float32Array(Math.round(end * rateHz));
  const player = new PartPlayer(
    notes.map((note) => ({
      fromFrame: Math.round(note.fromSec * rateHz),
      toFrame: Math.round(note.toSec * rateHz),
      hz: hzOfKey(note.key, note.cents),
      loudness: 0.8,
    })),
    instrumentOf(family, rateHz),
    rateHz,
  );
  player.addTo(sound, 1);
  return sound;
}

/** A room: direct sound, and a tail of decaying noise `directDb` below it in energy, 60 dB down after `t60Sec`. */
export function inRoom(
  sound: Float32Array,
  t60Sec: number,
  directDb: number,
  seed: number,
  rateHz = RATE_HZ,
): Float32Array {
  const random = new Random(seed);
  const tail = new Float64Array(Math.round(t60Sec * rateHz));
  let energy = 0;
  for (let n = Math.round(0.003 * rateHz); n < tail.length; n++) {
    tail[n] = random.gaussian() * 10 ** (-3 * (n / rateHz / t60Sec));
    energy += tail[n]! ** 2;
  }
  const gain = Math.sqrt(10 ** (-directDb / 10) / energy);
  for (let n = 0; n < tail.length; n++) tail[n]! *= gain;
  tail[0] = 1;
  return convolved(sound, tail);
}

/** Root of the mean power where it sounds at all. */
export function soundingLevel(sound: Float32Array): number {
  let power = 0;
  let count = 0;
  for (const value of sound) {
    if (Math.abs(value) < 1e-4) continue;
    power += value * value;
    count++;
  }
  return Math.sqrt(power / Math.max(1, count));
}

/** White noise added, its power `snrDb` below that of the sound where it sounds. */
export function noisy(sound: Float32Array, snrDb: number, seed: number): Float32Array {
  const random = new Random(seed);
  const level = soundingLevel(sound) * 10 ** (-snrDb / 20);
  const noisy = new Float32Array(sound.length);
  for (let n = 0; n < sound.length; n++) noisy[n] = sound[n]! + level * random.gaussian();
  return noisy;
}

export function tracked(sound: Float32Array, rateHz = RATE_HZ, blockFrames = 4096): PitchTrack {
  const tracker = new PitchTracker(rateHz);
  for (let from = 0; from < sound.length; from += blockFrames) {
    tracker.add([sound.subarray(from, Math.min(sound.length, from + blockFrames))]);
  }
  return tracker.result();
}

/** Harmonic tone, levels by partial number; hz may change with time. */
export function tone(
  hzAt: (sec: number) => number,
  lengthSec: number,
  levels: readonly number[],
  rateHz = RATE_HZ,
): Float32Array {
  const sound = new Float32Array(Math.round(lengthSec * rateHz));
  let phase = 0;
  for (let n = 0; n < sound.length; n++) {
    phase += (2 * Math.PI * hzAt(n / rateHz)) / rateHz;
    let value = 0;
    for (const [index, level] of levels.entries()) if (level !== 0) value += level * Math.sin((index + 1) * phase);
    sound[n] = value;
  }
  return sound;
}

/** Cents of each frame off a key within a stretch; NaN frames left out. */
export function centsWithin(track: PitchTrack, fromSec: number, toSec: number, key: number): number[] {
  const values: number[] = [];
  for (let n = 0; n < track.hz.length; n++) {
    const sec = track.firstSec + n * track.hopSec;
    if (sec < fromSec || sec > toSec || Number.isNaN(track.hz[n]!)) continue;
    values.push(1200 * Math.log2(track.hz[n]! / hzOfKey(key)));
  }
  return values;
}

export function sortedSizes(values: readonly number[]): number[] {
  return values.map(Math.abs).sort((a, b) => a - b);
}
