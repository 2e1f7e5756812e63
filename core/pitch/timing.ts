import { type Threshold, timingThresholds } from './audibility.ts';
import { SHARED_DOUBT } from './onset-time.ts';
import { medianOf, spreadOf } from './pitch-span.ts';
import { FARTHEST_SEC, groupsOf, type Onset, onsetsOf } from './shared-onsets.ts';
import type { TunedVoice } from './tuned-note.ts';
import { type LateNote, type TimedAgainst, type VoiceTiming, voiceTiming } from './voice-timing.ts';

/** How voices keep together. ms: above 0 late. */
export interface TimingReport {
  readonly against: TimedAgainst;
  readonly voices: readonly VoiceTiming[];
  /** Only bars in which at least two notes of different voices begin together. */
  readonly bars: readonly BarTiming[];
  /** Median over all places where voices begin together of their spread; null where there is none. */
  readonly spreadMs: number | null;
  readonly thresholds: readonly Threshold[];
}

export interface BarTiming {
  readonly bar: number;
  readonly sec: number;
  /** Standard deviation of the onsets of notes that belong together, ms. */
  readonly spreadMs: number;
  readonly count: number;
}

/** against: 'guide' where expected times are the guide's; 'others' holds each voice against those that begin with it. */
export function timingReport(voices: readonly TunedVoice[], against: TimedAgainst): TimingReport {
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
  against: TimedAgainst,
): { readonly id: string; readonly notes: number; readonly spreadMs: number | null }[] {
  const onsets = onsetsOf(voices);
  const { lates } = latesOf(voices, onsets, against === 'guide' ? null : groupsOf(onsets));
  return voices.map(({ id }, index) => {
    const values = lates[index]!.map((note) => note.lateMs);
    const spreadMs = values.length === 0 ? null : spreadOf(values, medianOf(values));
    return { id, notes: values.length, spreadMs };
  });
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
