import { foundOf } from '../../../core/session/anchors.ts';
import { bendWords } from '../../../core/session/offset-curve.ts';
import { exactness, isBareMark, isUnplaced } from '../../../core/session/place-words.ts';
import type { Placement, Witness } from '../../../core/session/schema.ts';
import { sessionSecOf } from '../../../core/signal/clock.ts';
import { clock, figure } from '../../parts/numbers.ts';

/** A cell tells so many changes of a clock. */
const MOST_BENDS_TOLD = 3;

/** A confidence in words. */
export function confidenceWords(confidence: number): string {
  if (confidence >= 0.9) return 'sure';
  if (confidence >= 0.7) return 'fairly sure';
  if (confidence >= 0.4) return 'doubtful';
  return 'a guess';
}

/** How exactly a place is known: a number of ms, "the mark" or "not known". */
export function exactWords(placement: Placement): string {
  return isUnplaced(placement) || isBareMark(placement) ? exactness(placement) : `± ${exactness(placement)}`;
}

/** How far any moment of a take may lie from its place: a number of ms, a dash where that is not known. */
export function residualWords({ residualSec }: Placement): string {
  return residualSec === undefined ? '–' : reachWords(residualSec * 1000);
}

/** A distance from a place, as table, curve and picture tell it: "9.1 ms", "14 ms". */
export function reachWords(ms: number): string {
  return `${figure(ms, ms < 10 ? 1 : 0)} ms`;
}

/** The changes of a clock in words, each with its session time: "1:40.0: lost 20 ms"; a few, and how many more there are. */
export function bendsWords(placement: Placement): string[] {
  const bends = placement.bends ?? [];
  const words = bends.map(
    (bend, n) =>
      `${clock(sessionSecOf(placement, bend.takeSec), 1)}: ${bendWords(bend, bends[n - 1]?.driftPpm ?? placement.driftPpm)}`,
  );
  return words.length <= MOST_BENDS_TOLD
    ? words
    : [...words.slice(0, MOST_BENDS_TOLD - 1), `and ${words.length - MOST_BENDS_TOLD + 1} more changes`];
}

/**
 * Why a take has no curve, and whether lining it up again may give it one: not where its clap or its notes as a whole are all that was
 * found, or nothing was; but where more was heard than was kept, as before such curves were, or where it was laid by hand.
 */
export function unheardWords({ by, evidence }: Pick<Placement, 'by' | 'evidence'>): {
  readonly words: string;
  readonly mayHelp: boolean;
} {
  const kept = 'Nothing is kept of what was heard along this take';
  if (by === 'user') return { words: `${kept}. Lining it up again takes back what you laid by hand.`, mayHelp: true };
  const heard = evidence.filter(({ accepted }) => accepted);
  if (heard.some(({ kind }) => kind !== 'clap' && kind !== 'mutual')) {
    return { words: `${kept}: it was lined up before such curves were kept.`, mayHelp: true };
  }
  if (heard.some(({ kind }) => kind === 'mutual')) {
    const words =
      'Its notes as a whole, held against the other voices, tell where this take lies, and no single moment of it is known. Pin one that you hear clearly.';
    return { words, mayHelp: false };
  }
  const words =
    heard.length > 0
      ? 'Only its clap tells when this take was played. Nothing else was heard along it to hold it against, so whether its clock stays in time is not known: listen near its end, and pin it there.'
      : 'Nothing was heard along this take to hold it against the guide or the other voices.';
  return { words, mayHelp: false };
}

/** What a kind of evidence is called. */
export const witnessWords: Readonly<Record<Witness['kind'], string>> = {
  clap: 'clap',
  bleed: 'guide heard in the take',
  onsets: 'notes against the guide',
  mutual: 'notes against other voices',
  user: 'you',
};

/** A drift in words: what the recorder's clock does. */
export function driftWords(driftPpm: number): string {
  const size = Math.abs(driftPpm);
  if (size < 0.5) return 'in time';
  return `${size.toFixed(0)} ppm ${driftPpm > 0 ? 'fast' : 'slow'}`;
}

/** Where the evidence by itself puts a take's beginning, session s; undefined where nothing tells. */
export function foundOffsetSec(placement: Placement): number | undefined {
  return foundOf(placement)?.offsetSec;
}

/** How far a witness would have the take later (positive) or earlier than it lies, s, at its own moment. */
export function apartSec(witness: Witness, placement: Placement): number {
  return witness.atSec - sessionSecOf(placement, witness.takeSec);
}

/** A difference in ms with its direction in words. */
export function apartWords(sec: number): string {
  const ms = sec * 1000;
  const size = figure(Math.abs(ms), Math.abs(ms) < 10 ? 1 : 0);
  if (size === '0.0' || size === '0') return 'agrees';
  return `${size} ms ${ms > 0 ? 'later' : 'earlier'}`;
}
