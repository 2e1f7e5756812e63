import { type LevelTrack, TRACK_BANDS, TRACK_RATE_HZ } from './level-track.ts';

/** A quiet stretch, steps of the level track: from its first to the one behind its last. */
export interface QuietRun {
  readonly from: number;
  readonly to: number;
  readonly levelDb: number;
}

/** The runs, best first; `certain` unless they may as well be music. */
export interface QuietOutcome {
  readonly runs: QuietRun[];
  readonly certain: boolean;
  readonly confidence: number;
}

/** Steps of the window in which steadiness is judged: 0.6 s. */
const WINDOW = 12;
/** Largest range of the levels within such a window, dB, by band: low noise wavers more, for it has fewer cycles. */
const WINDOW_RANGE_DB = [13, 6, 4];
/** How far steps of the same silence may lie above its level, dB, by band. */
const ABOVE_DB = [7, 3.2, 2.6];
/** Another silence may be this much louder than the best one: the noise drifts. */
const LOUDER_DB = 9;
/** Shortest silence, steps: 0.8 s. */
const SHORTEST = 16;
/** Shortest of the louder ones. */
const SHORTEST_LOUDER = 26;
/** Cut off at the start (a last tail) and the end (a first breath) of a silence, steps. */
const TRIM_START = 3;
const TRIM_END = 2;
const MOST_TRIES = 400;
const MOST_RUNS = 6;

/** Looks for quiet stretches in a level track. hint: frames in which a silence is expected. */
export function searchQuiet(track: LevelTrack, hint?: { fromFrame: number; toFrame: number }): QuietOutcome {
  const steps = track.steps;
  const levels = bandLevels(track);
  const scores = windowScores(levels, steps);
  if (hint !== undefined) preferHint(scores, track, hint);
  const order = Array.from(scores.keys()).filter((n) => scores[n]! < Number.POSITIVE_INFINITY);
  order.sort((a, b) => scores[a]! - scores[b]! || a - b);
  const taken = new Uint8Array(steps);
  const runs: QuietRun[] = [];
  let main: number[] | undefined;
  let tries = 0;
  for (const start of order) {
    if (taken[start] === 1 || taken[start + WINDOW - 1] === 1) continue;
    if (++tries > MOST_TRIES || runs.length >= MOST_RUNS) break;
    const local = windowLevels(levels, start);
    if (main !== undefined && !nearMain(local, main)) continue;
    const run = grow(levels, local, start, steps, taken);
    taken.fill(1, start, start + WINDOW);
    const louder = main !== undefined && local.some((level, b) => level > main![b]! + ABOVE_DB[b]!);
    if (run.to - run.from < (louder ? SHORTEST_LOUDER : SHORTEST) || isFade(levels, run)) continue;
    taken.fill(1, run.from, run.to);
    main ??= local;
    runs.push({ from: run.from + TRIM_START, to: run.to - TRIM_END, levelDb: meanLevel(levels, run) });
  }
  return judge(runs, levels, steps);
}

function bandLevels(track: LevelTrack): Float64Array[] {
  return Array.from({ length: TRACK_BANDS }, (_, b) => {
    const levels = new Float64Array(track.steps);
    for (let n = 0; n < levels.length; n++) {
      const power = track.power(b, n);
      // A full-scale sine is 0 dB.
      levels[n] = power > 1e-14 ? 10 * Math.log10(2 * power) : Number.NaN;
    }
    return levels;
  });
}

/** Level of each window plus what it wavers; Infinity where it is unsteady or holds digital silence. */
function windowScores(levels: readonly Float64Array[], steps: number): Float64Array {
  const scores = new Float64Array(Math.max(0, steps - WINDOW + 1));
  for (let start = 0; start < scores.length; start++) {
    let score = 0;
    for (let b = 0; b < TRACK_BANDS; b++) {
      let low = Number.POSITIVE_INFINITY;
      let high = Number.NEGATIVE_INFINITY;
      let sum = 0;
      for (let n = start; n < start + WINDOW; n++) {
        const level = levels[b]![n]!;
        low = Math.min(low, level);
        high = Math.max(high, level);
        sum += level;
      }
      if (!(high - low <= WINDOW_RANGE_DB[b]!)) score = Number.POSITIVE_INFINITY;
      // The middle band is where music is; it counts twice.
      score += ((b === 1 ? 2 : 1) * (sum / WINDOW + 0.5 * (high - low))) / 4;
    }
    scores[start] = Number.isNaN(score) ? Number.POSITIVE_INFINITY : score;
  }
  return scores;
}

/** Windows within the hint count as 3 dB quieter. */
function preferHint(scores: Float64Array, track: LevelTrack, hint: { fromFrame: number; toFrame: number }): void {
  const from = Math.ceil(hint.fromFrame / track.stepFrames);
  const to = Math.floor(hint.toFrame / track.stepFrames) - WINDOW;
  for (let n = Math.max(0, from); n <= Math.min(to, scores.length - 1); n++) scores[n]! -= 3;
}

function windowLevels(levels: readonly Float64Array[], start: number): number[] {
  return levels.map((band) => {
    let sum = 0;
    for (let n = start; n < start + WINDOW; n++) sum += 10 ** (band[n]! / 10);
    return 10 * Math.log10(sum / WINDOW);
  });
}

function nearMain(local: readonly number[], main: readonly number[]): boolean {
  return local.every((level, b) => level < main[b]! + LOUDER_DB);
}

function grow(
  levels: readonly Float64Array[],
  local: readonly number[],
  start: number,
  steps: number,
  taken: Uint8Array,
): { from: number; to: number } {
  const fits = (n: number): boolean => {
    for (let b = 0; b < TRACK_BANDS; b++) if (!(levels[b]![n]! < local[b]! + ABOVE_DB[b]!)) return false;
    return taken[n] === 0;
  };
  let from = start;
  let to = start;
  while (to < steps && fits(to)) to++;
  while (from > 0 && fits(from - 1)) from--;
  return { from, to };
}

/** A stretch whose level falls or rises from end to end is no room at rest. */
function isFade(levels: readonly Float64Array[], run: { from: number; to: number }): boolean {
  const length = run.to - run.from;
  const middle = (length - 1) / 2;
  for (let b = 1; b < TRACK_BANDS; b++) {
    let slope = 0;
    let weight = 0;
    for (let n = 0; n < length; n++) {
      slope += (n - middle) * levels[b]![run.from + n]!;
      weight += (n - middle) ** 2;
    }
    const fallDb = Math.abs((slope / weight) * length);
    if (fallDb > 4 && fallDb / (length / TRACK_RATE_HZ) > 1.5) return true;
  }
  return false;
}

function meanLevel(levels: readonly Float64Array[], run: { from: number; to: number }): number {
  let sum = 0;
  for (const band of levels) {
    let part = 0;
    for (let n = run.from; n < run.to; n++) part += 10 ** (band[n]! / 10);
    sum += part / (run.to - run.from);
  }
  return 10 * Math.log10(sum);
}

function judge(runs: QuietRun[], levels: readonly Float64Array[], steps: number): QuietOutcome {
  const first = runs[0];
  if (first === undefined) return { runs, certain: false, confidence: 0 };
  // Among equally quiet ones the longest is learnt from first.
  const near = runs.filter((run) => run.levelDb < first.levelDb + 2);
  near.sort((a, b) => b.to - b.from - (a.to - a.from));
  const ordered = [...near, ...runs.filter((run) => !near.includes(run))];
  const best = ordered[0]!;
  const middle = Array.from(levels[1]!.subarray(0, steps)).filter((level) => !Number.isNaN(level));
  middle.sort((a, b) => a - b);
  const loud = middle[Math.floor(0.8 * middle.length)]!;
  let own = 0;
  for (let n = best.from; n < best.to; n++) own += levels[1]![n]! / (best.to - best.from);
  const below = loud - own;
  const seconds = (best.to - best.from) / TRACK_RATE_HZ;
  const covered = ordered.reduce((sum, run) => sum + run.to - run.from, 0) / steps;
  const confidence = Math.min(1, seconds / 1.5) * Math.min(1, Math.max(0, below) / 10);
  return { runs: ordered, certain: below > 4 || covered > 0.6, confidence: covered > 0.6 ? 0.5 : confidence };
}
