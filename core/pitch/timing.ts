import { type Threshold, timingThresholds, WARN_MS } from './audibility.ts';
import { medianOf, spreadOf } from './pitch-span.ts';
import type { TunedVoice } from './tuned-note.ts';

/** How voices keep together. ms: above 0 late. */
export interface TimingReport {
  /** What notes are held against: the guide's own times, or the middle of the voices that begin together. */
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
  readonly notes: readonly {
    readonly sec: number;
    readonly bar: number | null;
    readonly lateMs: number;
    readonly uncertaintyMs: number;
  }[];
  readonly lateMs: number | null;
  /** One standard deviation of `lateMs`, with that of the voice's place. */
  readonly uncertaintyMs: number | null;
  /** Robust standard deviation of its notes about that. */
  readonly spreadMs: number | null;
  /** One plain sentence; null where there is nothing to say. */
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

interface Onset {
  readonly voice: number;
  readonly sec: number;
  readonly bar: number | null;
  readonly expectedSec: number | null;
  readonly uncertaintySec: number;
}

/** against: 'guide' where expected times are the guide's; 'others' holds each voice against those that begin with it. */
export function timingReport(voices: readonly TunedVoice[], against: 'guide' | 'others'): TimingReport {
  const onsets = voices.flatMap((voice, index) =>
    voice.notes.flatMap((note): Onset[] =>
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
  const groups = groupsOf(onsets);
  const lates: { sec: number; bar: number | null; lateMs: number; uncertaintyMs: number }[][] = voices.map(() => []);
  const keep = (onset: Onset, lateSec: number): void => {
    if (Math.abs(lateSec) > FARTHEST_SEC) return;
    const { sec, bar, uncertaintySec } = onset;
    lates[onset.voice]!.push({ sec, bar, lateMs: 1000 * lateSec, uncertaintyMs: 1000 * uncertaintySec });
  };
  if (against === 'guide') {
    for (const onset of onsets) if (onset.expectedSec !== null) keep(onset, onset.sec - onset.expectedSec);
  } else {
    for (const group of groups) {
      for (const onset of group) {
        const others = group.filter((one) => one !== onset);
        keep(onset, onset.sec - others.reduce((sum, one) => sum + one.sec, 0) / others.length);
      }
    }
  }
  const spreads = groups.map((group) => 1000 * deviationOf(group.map((one) => one.sec)));
  return {
    against,
    voices: voices.map((voice, index) => voiceTiming(voice, lates[index]!, against)),
    bars: barsOf(groups, spreads),
    spreadMs: spreads.length === 0 ? null : medianOf(spreads),
    thresholds: timingThresholds,
  };
}

function voiceTiming(voice: TunedVoice, notes: VoiceTiming['notes'], against: 'guide' | 'others'): VoiceTiming {
  const { id, name } = voice;
  if (notes.length === 0) return { id, name, notes, lateMs: null, uncertaintyMs: null, spreadMs: null, sentence: null };
  const values = notes.map((note) => note.lateMs);
  const lateMs = medianOf(values);
  const spreadMs = spreadOf(values, lateMs);
  const uncertaintyMs = Math.hypot(
    (1.2533 * spreadMs) / Math.sqrt(notes.length),
    LEAST_MS,
    1000 * (voice.placeUncertaintySec ?? 0),
  );
  const told = Math.abs(lateMs) >= WARN_MS && Math.abs(lateMs) >= 2 * uncertaintyMs && notes.length >= 4;
  const sentence = told
    ? `${name} is ${Math.abs(lateMs).toFixed(0)} ms ${lateMs > 0 ? 'late' : 'early'} against ${against === 'guide' ? 'the guide' : 'the others'}, as heard.`
    : null;
  return { id, name, notes, lateMs, uncertaintyMs, spreadMs, sentence };
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

function barsOf(groups: readonly Onset[][], spreads: readonly number[]): BarTiming[] {
  const bars = new Map<number, { sec: number; squares: number; count: number }>();
  for (const [index, group] of groups.entries()) {
    const bar = group[0]!.bar;
    if (bar === null) continue;
    const before = bars.get(bar) ?? { sec: group[0]!.sec, squares: 0, count: 0 };
    bars.set(bar, {
      sec: Math.min(before.sec, group[0]!.sec),
      squares: before.squares + spreads[index]! ** 2,
      count: before.count + 1,
    });
  }
  return [...bars.entries()]
    .sort(([, a], [, b]) => a.sec - b.sec)
    .map(([bar, { sec, squares, count }]) => ({ bar, sec, spreadMs: Math.sqrt(squares / count), count }));
}

/** Standard deviation with n - 1. */
function deviationOf(values: readonly number[]): number {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / Math.max(1, values.length - 1));
}
