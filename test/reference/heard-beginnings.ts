import { powerToDb } from '../../core/signal/decibels.ts';
import { type CutInstrument, type CutNote, programOf } from './cut-take-melody.ts';
import { playSampled, SAMPLED_RATE_HZ } from './sampled-notes.ts';

/** The greatest level is looked for so long after the note is struck, in steps of 2 ms with windows of 10 ms. */
const PEAK_SEC = 0.4;
const STEP_SEC = 0.002;
const HALF_WINDOW_SEC = 0.005;
const APART_SEC = 2;

/** When a note is heard after it is struck, s: where it comes within so many dB of its greatest level. */
export interface HeardLateness {
  /** Within 15, 10 and 6 dB. */
  readonly by15Sec: number;
  readonly by10Sec: number;
  readonly by6Sec: number;
}

/**
 * How late an instrument's notes are heard after they are struck, mean over the notes of a take.
 *
 * Source: Vos and Rasch 1981, "The perceptual onset of musical tones", Perception and Psychophysics 29: a tone is heard to begin where its
 * envelope passes a threshold some 6 to 15 dB below its greatest level (here 15, 10 and 6). Each key's dry sample is looked at alone.
 */
export function heardLateness(instrument: CutInstrument, notes: readonly CutNote[], folder: string): HeardLateness {
  const keys = [...new Set(notes.map((note) => note.key))];
  const row = { program: programOf(instrument), keys, cents: keys.map(() => 0), stepSec: APART_SEC, noteSec: 0.6 };
  const [played] = playSampled([row], folder);
  const byKey = new Map(played!.notes.map(({ key, fromSec }) => [key, levelsFrom(played!.sound, fromSec)]));
  const mean = (belowDb: number): number =>
    notes.reduce((sum, { key }) => sum + firstWithin(byKey.get(key)!, belowDb), 0) / notes.length;
  return { by15Sec: mean(15), by10Sec: mean(10), by6Sec: mean(6) };
}

function levelsFrom(sound: Float32Array, fromSec: number): number[] {
  const half = Math.round(HALF_WINDOW_SEC * SAMPLED_RATE_HZ);
  const levels: number[] = [];
  for (let sec = 0; sec <= PEAK_SEC; sec += STEP_SEC) {
    const middle = Math.round((fromSec + sec) * SAMPLED_RATE_HZ);
    let power = 0;
    for (let n = middle - half; n < middle + half; n++) power += (sound[n] ?? 0) ** 2;
    levels.push(powerToDb(power / (2 * half) + 1e-14));
  }
  return levels;
}

function firstWithin(levels: readonly number[], belowDb: number): number {
  const most = Math.max(...levels);
  return levels.findIndex((level) => level > most - belowDb) * STEP_SEC;
}
