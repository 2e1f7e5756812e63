import type { Take } from '../../../core/session/schema.ts';
import { type Lie, takeSecAt } from '../drawing/take-time.ts';

/** A moment at which takes clap, session time s, and how many say so. */
export interface ClapMoment {
  readonly atSec: number;
  readonly takes: number;
}

/** Claps nearer than this are one moment, s. */
const ONE_MOMENT_SEC = 1;

/**
 * The moments takes clap at, the one with most takes first; a moment that only takes speak for whose place is a guess comes last. cuesSec:
 * where the guide asks for claps, looked at also where no take has one that was found.
 */
export function clapMoments(takes: readonly Take[], cuesSec: readonly number[] = []): ClapMoment[] {
  const claps = takes.flatMap(({ placement }) =>
    (placement?.evidence ?? [])
      .filter((one) => one.kind === 'clap')
      .map(({ atSec }) => ({ atSec, sure: placement?.question === null ? 1 : 0, takes: 1 })),
  );
  const cues = cuesSec.map((atSec) => ({ atSec, sure: 0, takes: 0 }));
  const groups: { atSec: number; sure: number; takes: number }[][] = [];
  for (const one of [...claps, ...cues].sort((a, b) => a.atSec - b.atSec)) {
    const last = groups.at(-1);
    if (last !== undefined && one.atSec - last[0]!.atSec < ONE_MOMENT_SEC) last.push(one);
    else groups.push([one]);
  }
  return groups
    .map((group) => {
      // Where takes clap, they say when, and not the cue.
      const told = group.filter((one) => one.takes > 0);
      const { atSec } = (told.length === 0 ? group : told)[(told.length || group.length) >> 1]!;
      const sure = group.reduce((sum, one) => sum + one.sure, 0);
      return { atSec, takes: told.length, sure: sure > 0 || told.length === 0 };
    })
    .sort((a, b) => Number(b.sure) - Number(a.sure) || b.takes - a.takes || a.atSec - b.atSec)
    .map(({ atSec, takes }) => ({ atSec, takes }));
}

/** A run of a take's samples to fetch: the first one and how many. */
export interface SampleRun {
  readonly from: number;
  readonly count: number;
}

/** Sound kept on both sides of a moment, s; the run begins on a coarse grid, so that a nudge rarely fetches anew. */
const REACH_SEC = 0.75;
const GRID_SEC = 0.25;

/** The samples of a take around a session moment; undefined where the take has none there. */
export function runAround(atSec: number, lie: Lie | null, rateHz: number, lengthSec: number): SampleRun | undefined {
  const middle = Math.round(takeSecAt(atSec, lie) / GRID_SEC) * GRID_SEC;
  const from = Math.max(0, Math.floor((middle - REACH_SEC) * rateHz));
  const end = Math.min(Math.floor(lengthSec * rateHz), Math.ceil((middle + REACH_SEC) * rateHz));
  return end - from > 1 ? { from, count: end - from } : undefined;
}

/** Lowest and highest sample of each column of a window of session time; NaN pairs where there is no sound. */
export function columnsOf(
  samples: Float32Array,
  run: SampleRun,
  rateHz: number,
  lie: Lie | null,
  window: { readonly fromSec: number; readonly toSec: number },
  columns: number,
): Float32Array {
  const pairs = new Float32Array(2 * columns).fill(Number.NaN);
  const edgeAt = edges(lie, window, columns, (takeSec) => takeSec * rateHz - run.from);
  for (let column = 0; column < columns; column++) {
    const start = edgeAt(column);
    const end = edgeAt(column + 1);
    const from = Math.max(0, Math.floor(start));
    const to = Math.min(samples.length, Math.max(from + 1, Math.ceil(end)));
    if (end < 0 || from >= samples.length) continue;
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (let n = from; n < to; n++) {
      const value = samples[n]!;
      if (value < low) low = value;
      if (value > high) high = value;
    }
    if (low <= high) {
      pairs[2 * column] = low;
      pairs[2 * column + 1] = high;
    }
  }
  return pairs;
}

/** Where each column begins in a take, turned by `turn`; straight where its clock does not bend inside the window. */
function edges(
  lie: Lie | null,
  window: { readonly fromSec: number; readonly toSec: number },
  columns: number,
  turn: (takeSec: number) => number,
): (column: number) => number {
  const stepSec = (window.toSec - window.fromSec) / columns;
  const exact = (column: number): number => turn(takeSecAt(window.fromSec + column * stepSec, lie));
  const first = exact(0);
  const last = exact(columns);
  if (lie?.bends === undefined || lie.bends.length === 0)
    return (column) => first + (column / columns) * (last - first);
  return exact;
}

/** Largest size of the sound in a window, at least `least`, so that soft claps are seen as well. */
export function largestIn(pairs: Float32Array, least: number): number {
  let most = least;
  for (const value of pairs) if (Math.abs(value) > most) most = Math.abs(value);
  return most;
}
