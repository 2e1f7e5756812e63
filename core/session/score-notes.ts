import { barLines } from '../guide/bar-lines.ts';
import type { GuidePlan } from '../guide/guide-plan.ts';
import type { Part, Score } from '../guide/score.ts';
import { keyHz, type Temperament } from '../guide/temperament.ts';
import { TempoMap } from '../guide/tempo-map.ts';
import type { ExpectedNote } from '../pitch/expected-note.ts';
import type { GuideNote } from '../pitch/guide-leak.ts';
import type { ScorePart } from '../pitch/match-ensemble.ts';
import { centsOf } from '../pitch/pitch-span.ts';
import { SESSION_RATE_HZ } from '../signal/time.ts';

/** A tuning of the keys. tonic: 0 (C) to 11 (B). */
export interface Tuning {
  readonly temperament: Temperament;
  readonly tonic: number;
}

/** Positions nearer than this are one, quarters. */
const SAME_QUARTERS = 1e-6;

/** Cents above A4 = 440 Hz of a key in a tuning. */
export function keyCents(key: number, tuning: Tuning): number {
  return centsOf(keyHz(key, tuning.temperament, tuning.tonic, 440));
}

/**
 * The parts of a score as intonation and timing need them. With the plan of a guide times are the session's, else seconds from
 * the first note position. Of notes that begin together in one part the top one is kept; `notes` says where.
 */
export function scoreParts(
  score: Score,
  tuning: Tuning,
  plan: GuidePlan | undefined,
): { parts: ScorePart[]; notes: string[] } {
  const tempo = new TempoMap(score.tempo, score.holds);
  const zeroSec = plan === undefined ? 0 : plan.musicFrame / SESSION_RATE_HZ;
  const bars = barLines(score);
  const barAt = (quarters: number): number =>
    bars.findLast((bar) => bar.atQuarters <= quarters + SAME_QUARTERS)!.number;
  const told: string[] = [];
  const parts = score.parts.map((part) => {
    const line = topLine(part);
    if (line.length < part.notes.length) {
      told.push(`${part.name} has chords in the score; its top notes are looked for.`);
    }
    const notes = line.map((note, index): ExpectedNote => {
      const end = Math.min(
        note.atQuarters + note.lengthQuarters,
        line[index + 1]?.atQuarters ?? Number.POSITIVE_INFINITY,
      );
      return {
        atSec: zeroSec + tempo.secAt(note.atQuarters),
        endSec: zeroSec + tempo.secAt(end),
        key: note.key,
        cents: keyCents(note.key, tuning),
        bar: barAt(note.atQuarters),
      };
    });
    return { name: part.name, notes };
  });
  return { parts, notes: told };
}

/** All notes that a guide may play, of all parts. referenceHz: its A4. */
export function guideNotes(score: Score, plan: GuidePlan, tuning: Tuning, referenceHz: number): GuideNote[] {
  const tempo = new TempoMap(score.tempo, score.holds);
  const zeroSec = plan.musicFrame / SESSION_RATE_HZ;
  return score.parts.flatMap(({ notes }) =>
    notes.map(({ atQuarters, lengthQuarters, key }) => ({
      atSec: zeroSec + tempo.secAt(atQuarters),
      endSec: zeroSec + tempo.secAt(atQuarters + lengthQuarters),
      cents: keyCents(key, tuning) + centsOf(referenceHz),
    })),
  );
}

function topLine(part: Part): Part['notes'] {
  const sorted = [...part.notes].sort((a, b) => a.atQuarters - b.atQuarters || b.key - a.key);
  return sorted.filter((note, index) => {
    const before = sorted[index - 1];
    return before === undefined || note.atQuarters - before.atQuarters > SAME_QUARTERS;
  });
}
