import { WARN_MS } from '../../../core/pitch/audibility.ts';
import type { TimingReport } from '../../../core/pitch/timing.ts';

/** Without bars, stretches of this length stand for them, s. */
export const STRETCH_SEC = 5;
/** Axes reach at least and at most so far, ms. */
const LEAST_REACH_MS = 40;
const MOST_REACH_MS = 120;
/** Two standard deviations of the mean. */
const SURE = 2;

/** A bar of the piece, or a stretch that stands for one. */
export interface TimingColumn {
  /** Null for a stretch. */
  readonly bar: number | null;
  readonly fromSec: number;
  /** How far beginnings that belong together lie apart, ms; null where no two voices begin together. */
  readonly spreadMs: number | null;
}

/** How early or late a voice is in a bar. */
export interface TimingCell {
  /** Number of its column. */
  readonly column: number;
  /** Mean over the notes of the bar, ms, above 0 late; and their standard deviation, 0 for one note. */
  readonly lateMs: number;
  readonly deviationMs: number;
  readonly count: number;
  /** As early or late as others hear, beyond doubt. */
  readonly isOut: boolean;
}

export interface TimingTable {
  readonly columns: readonly TimingColumn[];
  readonly voices: readonly { readonly id: string; readonly name: string; readonly cells: readonly TimingCell[] }[];
  /** How far the axes reach, ms: of early and late, and of the spread. */
  readonly reachMs: number;
  readonly spreadReachMs: number;
}

/** Whether notes have bars; without, stretches of STRETCH_SEC stand for them. */
export function knowsBars(timing: TimingReport): boolean {
  return timing.voices.some(({ notes }) => notes.some(({ bar }) => bar !== null));
}

/** Early and late by voice and bar, with the spread of each bar. */
export function timingTable(timing: TimingReport): TimingTable {
  const hasBars = knowsBars(timing);
  const keyOf = ({ sec, bar }: { readonly sec: number; readonly bar: number | null }): number | null =>
    hasBars ? bar : Math.floor(sec / STRETCH_SEC);
  const firstSec = new Map<number, number>();
  for (const { notes } of timing.voices) {
    for (const note of notes) {
      const key = keyOf(note);
      if (key !== null) firstSec.set(key, Math.min(firstSec.get(key) ?? note.sec, note.sec));
    }
  }
  const keys = [...firstSec.keys()].sort((one, other) => firstSec.get(one)! - firstSec.get(other)!);
  // A bar that is repeated is one column: its worse pass counts.
  const spreads = new Map<number, number>();
  for (const { bar, spreadMs } of timing.bars) spreads.set(bar, Math.max(spreads.get(bar) ?? 0, spreadMs));
  const columns = keys.map(
    (key): TimingColumn => ({
      bar: hasBars ? key : null,
      fromSec: hasBars ? firstSec.get(key)! : key * STRETCH_SEC,
      spreadMs: hasBars ? (spreads.get(key) ?? null) : null,
    }),
  );
  const columnOf = new Map(keys.map((key, at) => [key, at]));
  const voices = timing.voices.map(({ id, name, notes }) => {
    const inColumn = new Map<number, { ms: number; uncertaintyMs: number }[]>();
    for (const note of notes) {
      const column = columnOf.get(keyOf(note) ?? Number.NaN);
      if (column === undefined) continue;
      const list = inColumn.get(column) ?? [];
      list.push({ ms: note.lateMs, uncertaintyMs: note.uncertaintyMs });
      inColumn.set(column, list);
    }
    const cells = [...inColumn].map(([column, list]) => cellOf(column, list)).sort((a, b) => a.column - b.column);
    return { id, name, cells };
  });
  const reach = (values: readonly number[]): number => {
    const sorted = [...values].sort((a, b) => a - b);
    const most = sorted[Math.floor(0.98 * (sorted.length - 1))] ?? 0;
    return Math.min(MOST_REACH_MS, Math.max(LEAST_REACH_MS, Math.ceil((most + 4) / 20) * 20));
  };
  return {
    columns,
    voices,
    reachMs: reach(voices.flatMap(({ cells }) => cells.map(({ lateMs }) => Math.abs(lateMs)))),
    spreadReachMs: reach(columns.flatMap(({ spreadMs }) => spreadMs ?? [])),
  };
}

function cellOf(column: number, notes: readonly { readonly ms: number; readonly uncertaintyMs: number }[]): TimingCell {
  const count = notes.length;
  const lateMs = notes.reduce((sum, { ms }) => sum + ms, 0) / count;
  const squares = notes.reduce((sum, { ms }) => sum + (ms - lateMs) ** 2, 0);
  const deviationMs = count < 2 ? 0 : Math.sqrt(squares / (count - 1));
  const own = Math.sqrt(notes.reduce((sum, { uncertaintyMs }) => sum + uncertaintyMs ** 2, 0)) / count;
  const doubtMs = Math.hypot(own, deviationMs / Math.sqrt(count));
  const isOut = Math.abs(lateMs) >= WARN_MS && Math.abs(lateMs) > SURE * doubtMs;
  return { column, lateMs, deviationMs, count, isOut };
}
