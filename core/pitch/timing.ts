import { type Threshold, timingThresholds, WARN_MS } from './audibility.ts';
import { SHARED_DOUBT, UNCLEAR_SEC } from './onset-time.ts';
import { medianOf, spreadOf } from './pitch-span.ts';
import { chanceOf, honestDeviation, pitchTrend, scaled } from './pitch-trend.ts';
import type { TunedVoice } from './tuned-note.ts';

/** How voices keep together. ms: above 0 late. */
export interface TimingReport {
  /** What notes are held against: the guide's own times, or the middle (median) of the other voices that begin with them. */
  readonly against: 'guide' | 'others';
  readonly voices: readonly VoiceTiming[];
  /** Only bars in which at least two notes of different voices begin together. */
  readonly bars: readonly BarTiming[];
  /** Median over all places where voices begin together of their spread; null where there is none. */
  readonly spreadMs: number | null;
  readonly thresholds: readonly Threshold[];
}

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

export interface BarTiming {
  readonly bar: number;
  readonly sec: number;
  /** Standard deviation of the onsets of notes that belong together, ms. */
  readonly spreadMs: number;
  readonly count: number;
}

/** Without a score: onsets within this are meant to be together, s. */
const TOGETHER_SEC = 0.09;
/** With one: notes whose written times differ by less, s. */
const SAME_SEC = 0.001;
/** An onset that is farther off is another note or a slip, s. */
const FARTHEST_SEC = 0.4;

/** No onset is known more surely than this, ms. */
const LEAST_MS = 3;

/** A voice is said to be late by so many notes, when so many of them are. */
const FEWEST_NOTES = 4;
const NEARLY_ALL = 0.75;
/**
 * From here on a voice's notes begin softly, ms: see `attackMs`. Of sampled winds, guitars and a harpsichord it is 3 to 5, of
 * brass 6, of bowed strings, horns and choirs 10 to 12 (test/reference/onset-doubt.judge.test.ts).
 */
const SOFT_MS = 6;
/** A voice is said to fall behind when chance would do it this rarely. */
const LAG_CHANCE = 0.005;

interface Onset {
  readonly voice: number;
  readonly sec: number;
  readonly bar: number | null;
  readonly expectedSec: number | null;
  readonly uncertaintySec: number;
}

/** The notes that say when they began; all, where too few of them do. */
function timedNotes({ notes }: TunedVoice): TunedVoice['notes'] {
  const begun = notes.filter((note) => note.onsetSec !== null);
  const clear = begun.filter((note) => note.onsetUncertaintySec < UNCLEAR_SEC);
  return clear.length >= FEWEST_NOTES ? clear : begun;
}

/** against: 'guide' where expected times are the guide's; 'others' holds each voice against those that begin with it. */
export function timingReport(voices: readonly TunedVoice[], against: 'guide' | 'others'): TimingReport {
  const onsets = onsetsOf(voices);
  const groups = groupsOf(onsets);
  const { lates, attacks } = latesOf(voices, onsets, against === 'guide' ? null : groups);
  const sounding = [...lates.keys()].filter((index) => lates[index]!.length > 0);
  const spreads = groups.map((group) => 1000 * deviationOf(group.map((one) => one.sec)));
  return {
    against,
    voices: voices.map((voice, index) => {
      // Of two voices only the later one is spoken of: the other is as early against it.
      const other = against === 'others' && sounding.length === 2 ? sounding.find((one) => one !== index) : undefined;
      const than = other === undefined ? undefined : voices[other]!.name;
      const othersMs = attacks[index]!.length === 0 ? 0 : medianOf(attacks[index]!);
      return voiceTiming(voice, lates[index]!, { against, othersMs, than });
    }),
    bars: barsOf(groups, spreads),
    spreadMs: spreads.length === 0 ? null : medianOf(spreads),
    thresholds: timingThresholds,
  };
}

/** How many notes of each voice are held against something, and their `spreadMs`: the same as in a report, without what else costs time there. */
export function timingSpreads(
  voices: readonly TunedVoice[],
  against: 'guide' | 'others',
): { readonly id: string; readonly notes: number; readonly spreadMs: number | null }[] {
  const onsets = onsetsOf(voices);
  const { lates } = latesOf(voices, onsets, against === 'guide' ? null : groupsOf(onsets));
  return voices.map(({ id }, index) => {
    const values = lates[index]!.map((note) => note.lateMs);
    const spreadMs = values.length === 0 ? null : spreadOf(values, medianOf(values));
    return { id, notes: values.length, spreadMs };
  });
}

function onsetsOf(voices: readonly TunedVoice[]): Onset[] {
  return voices.flatMap((voice, index) =>
    timedNotes(voice).flatMap((note): Onset[] =>
      note.onsetSec === null
        ? []
        : [
            {
              voice: index,
              sec: note.onsetSec,
              bar: note.bar,
              expectedSec: note.expectedSec,
              uncertaintySec: note.onsetUncertaintySec,
            },
          ],
    ),
  );
}

/**
 * How late each voice's notes are, against the guide where groups is null, else against the others of their group; and how little is known of when
 * those begin, ms.
 */
function latesOf(
  voices: readonly TunedVoice[],
  onsets: readonly Onset[],
  groups: readonly Onset[][] | null,
): { readonly lates: LateNote[][]; readonly attacks: number[][] } {
  const lates: LateNote[][] = voices.map(() => []);
  const attacks: number[][] = voices.map(() => []);
  const keep = (onset: Onset, lateSec: number, againstSec: number): void => {
    if (Math.abs(lateSec) > FARTHEST_SEC) return;
    const { sec, bar, uncertaintySec } = onset;
    const uncertaintyMs = 1000 * Math.hypot(uncertaintySec, againstSec);
    lates[onset.voice]!.push({ sec, bar, lateMs: 1000 * lateSec, uncertaintyMs });
  };
  if (groups === null) {
    for (const onset of onsets) if (onset.expectedSec !== null) keep(onset, onset.sec - onset.expectedSec, 0);
    return { lates, attacks };
  }
  for (const group of groups) {
    for (const onset of group) {
      const others = group.filter((one) => one !== onset);
      keep(onset, onset.sec - medianOf(others.map((one) => one.sec)), middleDoubt(others));
      attacks[onset.voice]!.push(1000 * SHARED_DOUBT * medianOf(others.map((one) => one.uncertaintySec)));
    }
  }
  return { lates, attacks };
}

/** One standard deviation of the middle of some onsets, s, from their own. */
function middleDoubt(onsets: readonly Onset[]): number {
  const loss = onsets.length > 2 ? 1.2533 : 1;
  return (loss * Math.hypot(...onsets.map((one) => one.uncertaintySec))) / onsets.length;
}

type LateNote = VoiceTiming['notes'][number];

interface LateAgainst {
  readonly against: TimingReport['against'];
  /** `attackMs` of those it is held against. */
  readonly othersMs: number;
  /** The other one, where there are but two. */
  readonly than: string | undefined;
}

function voiceTiming(
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
  against: TimingReport['against'],
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

function lagWords(name: string, ms: number, against: TimingReport['against']): string {
  const way = ms > 0 ? 'falls behind' : 'runs ahead of';
  return `${name} ${way} ${against === 'guide' ? 'the guide' : 'the others'} by ${Math.abs(ms).toFixed(0)} ms from beginning to end: pins at both ends in the line-up mend it.`;
}

/** Onsets that belong together, of at least two voices. */
function groupsOf(onsets: readonly Onset[]): Onset[][] {
  const written = onsets.every((onset) => onset.expectedSec !== null);
  const timeOf = (onset: Onset): number => (written ? onset.expectedSec! : onset.sec);
  const sorted = [...onsets].sort((a, b) => timeOf(a) - timeOf(b));
  const groups: Onset[][] = [];
  for (const onset of sorted) {
    const group = groups.at(-1);
    const near = group !== undefined && timeOf(onset) - timeOf(group[0]!) < (written ? SAME_SEC : TOGETHER_SEC);
    if (near && !group.some((one) => one.voice === onset.voice)) group.push(onset);
    else groups.push([onset]);
  }
  return groups
    .map((group) => {
      const middle = medianOf(group.map((one) => one.sec));
      return group.filter((one) => Math.abs(one.sec - middle) <= FARTHEST_SEC);
    })
    .filter((group) => group.length > 1);
}

/** Bars in the order they are played: one that is repeated is there twice. */
function barsOf(groups: readonly Onset[][], spreads: readonly number[]): BarTiming[] {
  const rows = groups
    .map((group, index) => ({
      bar: group[0]!.bar,
      sec: Math.min(...group.map((one) => one.sec)),
      spread: spreads[index]!,
    }))
    .sort((a, b) => a.sec - b.sec);
  const bars: { bar: number; sec: number; squares: number; count: number }[] = [];
  for (const { bar, sec, spread } of rows) {
    if (bar === null) continue;
    const last = bars.at(-1);
    if (last?.bar === bar) {
      last.squares += spread ** 2;
      last.count++;
    } else bars.push({ bar, sec, squares: spread ** 2, count: 1 });
  }
  return bars.map(({ bar, sec, squares, count }) => ({ bar, sec, spreadMs: Math.sqrt(squares / count), count }));
}

/** Standard deviation with n - 1. */
function deviationOf(values: readonly number[]): number {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / Math.max(1, values.length - 1));
}
