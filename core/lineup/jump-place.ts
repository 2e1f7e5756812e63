import type { Sound } from '../signal/sound.ts';
import type { GuidePrint } from './bleed.ts';
import { BLEED_REACH_SEC, CELL, correlateRows, LAG_HZ } from './bleed-rows.ts';
import { cubicAt } from './cubic-row.ts';
import { varianceOf } from './drift-stack.ts';
import { type Line, sessionSecOn, takeSecOn } from './line.ts';
import { type SoundBreak, soundBreaks } from './sound-break.ts';

/** The moment of a jump. */
export interface JumpPlace {
  /** The take's own time, s. */
  readonly takeSec: number;
  /** How far it may lie off, s. */
  readonly withinSec: number;
  /** Whether the sound itself breaks there. */
  readonly isBreak: boolean;
}

/** Looked at on either side of what is known: as much again, within these, s. */
const LEAST_MARGIN_SEC = 1;
const MOST_MARGIN_SEC = 4;
/** What the leakage may say against a break in the sound, nepers, for it still to be the place. */
const MOST_AGAINST = 7;
/** A place is left open where others are less likely by no more than this, nepers. */
const OPEN = 2;
/** A lag may lie off by a lobe of the correlation, s. */
const NUDGE_SEC = 0.0006;
const BREAK_ERROR_SEC = 0.001;
/** Share of jumps that break the wave nowhere that would be noticed, and breaks that are asked for: nepers, and how many. */
const UNBROKEN = 0.5;
const LEAST_EVIDENCE = 0;
const MOST_BREAKS = 12;
/** From this probability on no other place counts. */
const SURE_BREAK = 0.95;

/**
 * Where a take jumps from one line to another: between two session times, s. Cell by cell of 0.1 s the guide's leakage is
 * held against both lines; the sums before and after tell how likely each place is, and a break of the wave near the
 * likeliest tells it exactly.
 */
export function placeJump(
  print: GuidePrint,
  take: Sound,
  [before, after]: readonly [Line, Line],
  fromSec: number,
  toSec: number,
): JumpPlace {
  const marginSec = Math.max(LEAST_MARGIN_SEC, Math.min(MOST_MARGIN_SEC, toSec - fromSec));
  const start = Math.max(0, fromSec - marginSec);
  const count = Math.max(2, Math.ceil((toSec + marginSec - start) / CELL.segmentSec));
  const times = Array.from({ length: count }, (_, n) => start + n * CELL.segmentSec);
  const middle = (sec: number): number => 0.5 * (takeSecOn(before, sec) + takeSecOn(after, sec));
  const rows = correlateRows(print.cut(times, CELL), take, middle, 1 + before.driftPpm * 1e-6, CELL);
  const lagOn = (line: Line, n: number): number =>
    (takeSecOn(line, times[n]!) - middle(times[n]!) + BLEED_REACH_SEC) * LAG_HZ;
  // Either side is surely that of its line in its outer third; there the lag is made exact.
  const third = Math.max(1, Math.floor(count / 3));
  const nudges = [
    nudgeOf(rows, (n) => lagOn(before, n), 0, third),
    nudgeOf(rows, (n) => lagOn(after, n), count - third, count),
  ] as const;
  const at = (line: Line, n: number): number => cubicAt(rows[n]!, lagOn(line, n) + nudges[line === before ? 0 : 1]);
  // score[k]: cells before k on the first line, those from k on on the second.
  const score = new Float64Array(count + 1);
  for (let n = 0; n < count; n++) score[0]! += at(after, n);
  for (let n = 0; n < count; n++) score[n + 1] = score[n]! + at(before, n) - at(after, n);
  let best = 0;
  for (let k = 1; k <= count; k++) if (score[k]! > score[best]!) best = k;
  const variance = rows.reduce((sum, row) => sum + varianceOf(row), 0);
  const gain = variance > 0 ? Math.max(0, score[best]! / variance) : 0;
  const against = (k: number): number => gain * (score[best]! - score[k]!);
  const takeSecAt = (k: number): number => takeSecOn(before, start + k * CELL.segmentSec);
  const open = Array.from(score, (_, k) => k).filter((k) => against(k) < MOST_AGAINST);
  const fromTake = takeSecAt(open[0]! - 1);
  const toTake = takeSecAt(open.at(-1)! + 1);
  // The mean of all likely places errs least.
  let weight = 0;
  let mean = 0;
  for (const k of open) {
    weight += Math.exp(-against(k));
    mean += k * Math.exp(-against(k));
  }
  mean /= weight;
  const near = open.filter((k) => against(k) < OPEN);
  const withinSec = CELL.segmentSec * (0.5 + Math.max(mean - near[0]!, near.at(-1)! - mean));
  const unbroken = { takeSec: takeSecAt(mean), withinSec, isBreak: false };
  const cellOf = (takeSec: number): number =>
    Math.max(0, Math.min(count, Math.round((sessionSecOn(before, takeSec) - start) / CELL.segmentSec)));
  const breaks = soundBreaks(take, fromTake, toTake, MOST_BREAKS, LEAST_EVIDENCE);
  return breakPlace(breaks, (takeSec) => against(cellOf(takeSec)), weight * CELL.segmentSec, unbroken);
}

/**
 * The break at which it most likely jumps; else the place where it does without one. unbroken: how long it may
 * jump there, s, each moment by what the leakage says for it over the likeliest.
 */
function breakPlace(
  breaks: readonly SoundBreak[],
  against: (takeSec: number) => number,
  unbrokenSec: number,
  unbroken: JumpPlace,
): JumpPlace {
  const weights = breaks.map((one) => (1 - UNBROKEN) * Math.exp(one.evidence - against(one.atSec)));
  const all = weights.reduce((sum, one) => sum + one, UNBROKEN * unbrokenSec);
  const best = weights.indexOf(Math.max(...weights));
  if (best < 0 || weights[best]! < 0.5 * all) return unbroken;
  const takeSec = breaks[best]!.atSec;
  if (weights[best]! > SURE_BREAK * all) return { takeSec, withinSec: BREAK_ERROR_SEC, isBreak: true };
  const others = breaks
    .filter((_, k) => weights[k]! > (1 - SURE_BREAK) * all)
    .map((one) => Math.abs(one.atSec - takeSec));
  const apart = Math.abs(unbroken.takeSec - takeSec) + unbroken.withinSec;
  const withinSec = Math.max(...others, UNBROKEN * unbrokenSec > (1 - SURE_BREAK) * all ? apart : 0, BREAK_ERROR_SEC);
  return { takeSec, withinSec, isBreak: true };
}

/** Where the sum of rows from..to-1 is highest near the lags that are known, as lag steps to add. */
function nudgeOf(rows: readonly Float64Array[], lagOf: (n: number) => number, from: number, to: number): number {
  let most = Number.NEGATIVE_INFINITY;
  let chosen = 0;
  for (let nudge = -NUDGE_SEC * LAG_HZ; nudge <= NUDGE_SEC * LAG_HZ; nudge += 0.5) {
    let sum = 0;
    for (let n = from; n < to; n++) sum += cubicAt(rows[n]!, lagOf(n) + nudge);
    if (sum > most) {
      most = sum;
      chosen = nudge;
    }
  }
  return chosen;
}
