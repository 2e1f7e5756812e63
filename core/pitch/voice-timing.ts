import { WARN_MS } from './audibility.ts';
import { SHARED_DOUBT } from './onset-time.ts';
import { medianOf, spreadOf } from './pitch-span.ts';
import { chanceOf, honestDeviation, pitchTrend, scaled } from './pitch-trend.ts';
import type { TunedVoice } from './tuned-note.ts';

/** What notes are held against: the guide's own times, or the middle (median) of the other voices that begin with them. */
export type TimedAgainst = 'guide' | 'others';

/** How one voice keeps with what it is held against. ms: above 0 late. */
export interface VoiceTiming {
  readonly id: string;
  readonly name: string;
  /** Those whose beginning was heard; all, where hardly any was. */
  readonly notes: readonly {
    readonly sec: number;
    readonly bar: number | null;
    readonly lateMs: number;
    /** One standard deviation, with that of what it is held against. */
    readonly uncertaintyMs: number;
  }[];
  readonly lateMs: number | null;
  /** One standard deviation of `lateMs`, with that of the voice's place, `attackMs` and, against the others, theirs. */
  readonly uncertaintyMs: number | null;
  /** Doubt about when its notes are heard to begin, what is the same for all of them: what is bowed or sung has no sharp beginning. */
  readonly attackMs: number | null;
  /** How much later it is at the end than at the beginning; null for few notes. */
  readonly lag: { readonly ms: number; readonly uncertaintyMs: number } | null;
  /** Robust standard deviation of its notes about that. */
  readonly spreadMs: number | null;
  /** One or two plain sentences, with what can be done; null where there is nothing to say. */
  readonly sentence: string | null;
}

/** No onset is known more surely than this, ms. */
const LEAST_MS = 3;

/** A voice is said to be late by so many notes, when so many of them are. */
export const FEWEST_NOTES = 4;
const NEARLY_ALL = 0.75;
/**
 * From here on a voice's notes begin softly, ms: see `attackMs`. Of sampled winds, guitars and a harpsichord it is 3 to 5, of
 * brass 6, of bowed strings, horns and choirs 10 to 12 (test/reference/onset-doubt.judge.test.ts).
 */
const SOFT_MS = 6;
/** A voice is said to fall behind when chance would do it this rarely. */
const LAG_CHANCE = 0.005;

/** How late a note is held to be. */
export type LateNote = VoiceTiming['notes'][number];

interface LateAgainst {
  readonly against: TimedAgainst;
  /** `attackMs` of those it is held against. */
  readonly othersMs: number;
  /** The other one, where there are but two. */
  readonly than: string | undefined;
}

/** How a voice keeps with what it is held against, from how late its notes are. */
export function voiceTiming(
  voice: TunedVoice,
  notes: readonly LateNote[],
  { against, othersMs, than }: LateAgainst,
): VoiceTiming {
  const { id, name } = voice;
  if (notes.length === 0) {
    const nothing = { lateMs: null, uncertaintyMs: null, attackMs: null, lag: null, spreadMs: null, sentence: null };
    return { id, name, notes, ...nothing };
  }
  const values = notes.map((note) => note.lateMs);
  const lateMs = medianOf(values);
  const spreadMs = spreadOf(values, lateMs);
  const begun = voice.notes.filter((note) => note.onsetSec !== null);
  const attackMs = 1000 * SHARED_DOUBT * medianOf(begun.map((note) => note.onsetUncertaintySec));
  const uncertaintyMs = Math.hypot(
    (1.2533 * spreadMs) / Math.sqrt(notes.length),
    Math.max(LEAST_MS, attackMs),
    othersMs,
    1000 * (voice.placeUncertaintySec ?? 0),
  );
  const lag = lagOf(notes);
  const figures = { id, name, notes, lateMs, uncertaintyMs, attackMs, lag: lag?.figure ?? null, spreadMs };
  const said = lag?.isTold === true ? lagWords(name, lag.figure.ms, against) : lateWords(figures, against, than);
  return { ...figures, sentence: said };
}

/** Whether a voice is late (early) by what is heard, surely, and nearly all through: half of its notes being late is another matter. */
function lateWords(
  { name, notes, lateMs, uncertaintyMs, attackMs }: Omit<VoiceTiming, 'sentence'>,
  against: TimedAgainst,
  than: string | undefined,
): string | null {
  const size = Math.abs(lateMs!);
  const alike = notes.filter((note) => note.lateMs * Math.sign(lateMs!) >= 0.5 * WARN_MS).length;
  const isSure = size >= WARN_MS && size >= 2 * uncertaintyMs! && notes.length >= FEWEST_NOTES;
  if (!isSure || alike < NEARLY_ALL * notes.length || (than !== undefined && lateMs! < 0)) return null;
  const whom = than ?? (against === 'guide' ? 'the guide' : 'the others');
  const told = `${name} is heard ${size.toFixed(0)} ms ${lateMs! > 0 ? 'late' : 'early'} against ${whom}`;
  if (attackMs! >= SOFT_MS && lateMs! > 0) {
    return `${told}; its notes begin softly, so that it may well have been played in time: listen, and move the take if it drags.`;
  }
  return `${told}: moving the take mends it.`;
}

/** How a voice gets later or earlier on the way. */
function lagOf(
  notes: readonly LateNote[],
): { readonly figure: NonNullable<VoiceTiming['lag']>; readonly isTold: boolean } | undefined {
  // Errors by leaving out bars, and stretches.
  const trend = pitchTrend(
    notes.map(({ sec, bar, lateMs }) => ({ sec, key: bar ?? 0, cents: lateMs })),
    'time',
  );
  if (trend === undefined) return undefined;
  const seconds = notes.map(({ sec }) => sec);
  const estimate = scaled(trend.perSec, Math.max(...seconds) - Math.min(...seconds));
  return {
    figure: { ms: estimate.value, uncertaintyMs: honestDeviation(estimate) },
    isTold: Math.abs(estimate.value) >= WARN_MS && chanceOf(estimate) <= LAG_CHANCE,
  };
}

function lagWords(name: string, ms: number, against: TimedAgainst): string {
  const way = ms > 0 ? 'falls behind' : 'runs ahead of';
  return `${name} ${way} ${against === 'guide' ? 'the guide' : 'the others'} by ${Math.abs(ms).toFixed(0)} ms from beginning to end: pins at both ends in the line-up mend it.`;
}
