import { type HeardNote, heardNotes } from '../../core/pitch/heard-notes.ts';
import type { PitchTrack } from '../../core/pitch/pitch-tracker.ts';
import { inRoom, noisy, RATE_HZ, tracked } from '../core/pitch/pitch-kit.ts';
import type { MelodyCase } from './melody-cases.ts';
import { playMelodies } from './sampled-melody.ts';

/** From one note alone to the next, and how long each is held at most, s. */
const APART_SEC = 1.3;
const HELD_SEC = 0.5;
const FIRST_SEC = 0.1;
/** The greatest level is looked for so long, in steps of 2 ms with windows of 10 ms. */
const PEAK_SEC = 0.15;
const STEP_SEC = 0.002;
const HALF_WINDOW_SEC = 0.005;
/** A heard note is the played one whose pitch lies within this, and the nearest of those within this. */
const NEAR_CENTS = 75;
const NEAR_SEC = 0.12;
const AT_ONCE = 25;

/** A note that was played and heard: when it is heard to begin, and when its dry sound alone does, s. */
export interface PairedOnset {
  readonly of: MelodyCase;
  readonly track: PitchTrack;
  readonly heard: HeardNote;
  readonly trueSec: number;
}

/**
 * Plays cases in their rooms with their noise and pairs what is heard with what was played, one to one, the nearest first. When a note
 * begins: where it alone, dry, as loud as it was played and with the melody's own gain, comes within 10 dB of its greatest level in 150 ms.
 * Source: Vos and Rasch 1981, "The perceptual onset of musical tones", Perception and Psychophysics 29 (7 to 15 dB).
 */
export function pairedOnsets(cases: readonly MelodyCase[], folder: string): PairedOnset[] {
  const pairs: PairedOnset[] = [];
  for (let from = 0; from < cases.length; from += AT_ONCE) {
    const some = cases.slice(from, from + AT_ONCE);
    const dry = playMelodies(
      some.map((one) => one.melody),
      folder,
      RATE_HZ,
    );
    const begins = dryOnsets(some, folder);
    for (const [index, of] of some.entries()) {
      const sound = noisy(inRoom(dry[index]!, of.t60Sec, of.directDb, of.seed + 1), of.snrDb, of.seed + 2);
      const track = tracked(sound);
      for (const [heard, trueSec] of paired(heardNotes(track), of, begins[index]!)) {
        pairs.push({ of, track, heard, trueSec });
      }
    }
  }
  return pairs;
}

function paired(heard: readonly HeardNote[], { melody }: MelodyCase, begins: readonly number[]): [HeardNote, number][] {
  const near = heard.flatMap((note) =>
    begins.flatMap((sec, at) => {
      const farSec = Math.abs(note.onsetSec - sec);
      const isOwn = Math.abs(note.cents - 100 * (melody.notes[at]!.key - 69)) < NEAR_CENTS;
      return isOwn && farSec < NEAR_SEC ? [{ note, at, farSec }] : [];
    }),
  );
  const notes = new Set<HeardNote>();
  const taken = new Set<number>();
  return near
    .sort((a, b) => a.farSec - b.farSec)
    .flatMap(({ note, at }): [HeardNote, number][] => {
      if (notes.has(note) || taken.has(at)) return [];
      notes.add(note);
      taken.add(at);
      return [[note, begins[at]!]];
    });
}

/** Of each case, when its notes begin by their dry sounds alone, s. */
function dryOnsets(cases: readonly MelodyCase[], folder: string): number[][] {
  const alone = cases.map(({ melody: { program, notes } }) => ({
    program,
    notes: notes.map((note, n) => {
      const fromSec = FIRST_SEC + APART_SEC * n;
      return { ...note, fromSec, toSec: fromSec + Math.min(HELD_SEC, note.toSec - note.fromSec) };
    }),
  }));
  const sounds = playMelodies(alone, folder, RATE_HZ);
  return cases.map(({ melody }, index) =>
    melody.notes.map(({ fromSec, toSec }, n) => {
      const steps = Math.max(5, Math.floor(Math.min(PEAK_SEC, toSec - fromSec) / STEP_SEC));
      const levels = Array.from({ length: steps }, (_, step) => {
        const gainDb = melody.gainDb?.(fromSec + STEP_SEC * step) ?? 0;
        return levelAt(sounds[index]!, FIRST_SEC + APART_SEC * n + STEP_SEC * step) + gainDb;
      });
      const wanted = Math.max(...levels) - 10;
      return fromSec + STEP_SEC * levels.findIndex((level) => level >= wanted);
    }),
  );
}

function levelAt(sound: Float32Array, sec: number): number {
  const middle = Math.round(sec * RATE_HZ);
  const half = Math.round(HALF_WINDOW_SEC * RATE_HZ);
  let sum = 1e-14;
  for (let n = middle - half; n < middle + half; n++) sum += (sound[n] ?? 0) ** 2;
  return 10 * Math.log10(sum / (2 * half));
}
