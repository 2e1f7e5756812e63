import { findClapSounds } from './clap.ts';
import { beginAlike } from './same-beginning.ts';
import { type Levels, TICK_SEC, type TraceSource } from './trace.ts';

/** Levels are looked at in steps of this, s. */
const STEP_SEC = 0.25;
/** A rest in the music is shorter than this, s: in a longer one a new take may begin. */
const REST_SEC = 4;
/** A run of music is no shorter, s; claps, counting and tuning are. */
const LEAST_MUSIC_SEC = 8;
/** An attempt that was broken off, s. */
const LEAST_ATTEMPT_SEC = 4;
/** Music goes on for at least half of so long a time, s, where a clap is over. */
const STEADY_SEC = 2;
/** A clap between two takes is at least so like one. */
const LEAST_LIKENESS = 0.5;
/** More sharp sounds in one rest are a click that is heard, or knocking about. */
const MOST_CLAPS = 4;
/** Music is at most this far below the loud moments of the clip, dB, and stands this far out of its quiet. */
const MUSIC_DB = 30;
const OUT_OF_QUIET_DB = 8;
/** From this on two beginnings are the same music, see beginAlike; a player who claps is taken to clap before each take. */
const SAME_BEGINNING = 16;
const SAME_THOUGH_NO_CLAP = 18;
/** With so little music chance gives more. */
const SAME_ATTEMPT = 18;
/** A take this much shorter than the longest was broken off. */
const BROKEN_OFF_SHARE = 0.6;
/** So long the end of a take may sound on, s; at most this share of the rest after it. */
const RING_SEC = 2;
const RING_SHARE = 0.4;

/** One of several takes in a clip. Seconds of the clip. */
export interface FoundPart {
  /** From the rest before it to the rest after it; together the parts hold the whole clip. */
  readonly fromSec: number;
  readonly toSec: number;
  /** Where it begins for the ear: with its clap, else with its music. */
  readonly beginsSec: number;
  /** How it was known: by its clap, or since the same music begins again. */
  readonly by: 'clap' | 'music';
  /** Much shorter than the longest: it seems to have been broken off. */
  readonly isBrokenOff: boolean;
}

interface Run {
  readonly fromSec: number;
  readonly toSec: number;
}

interface Attempt {
  readonly runs: Run[];
  readonly beginsSec: number;
  readonly by: FoundPart['by'];
}

/**
 * The takes of a clip that holds several one after another; empty where it holds one. After a rest of 4 s or more a take
 * begins where a clap stands before its music, or where the music of the first take begins again, be it without a clap or
 * only for some seconds; a long rest alone is part of the piece.
 */
export function severalTakes(trace: TraceSource): FoundPart[] {
  const levels = trace.levels();
  const { lengthSec } = levels;
  const runs = musicRuns(levels);
  if (runs.length < 2) return [];
  const claps = findClapSounds(levels).filter(({ likeness }) => likeness >= LEAST_LIKENESS);
  const heard = runs.map((run, index) => clapBefore(claps, runs[index - 1]?.toSec ?? 0, run));
  const attempts = attemptsOf(runs, heard, trace);
  return attempts.length < 2 ? [] : partsOf(attempts, lengthSec);
}

/** The clap that stands before a run of music and behind the one before it. */
function clapBefore(claps: readonly { readonly atSec: number }[], sinceSec: number, run: Run): number | undefined {
  const between = claps.filter(({ atSec }) => atSec > sinceSec + 0.5 && atSec < run.fromSec + STEP_SEC);
  return between.length > MOST_CLAPS ? undefined : between.at(-1)?.atSec;
}

function attemptsOf(runs: readonly Run[], claps: readonly (number | undefined)[], trace: TraceSource): Attempt[] {
  const isLong = (run: Run): boolean => run.toSec - run.fromSec >= LEAST_MUSIC_SEC;
  // The first run that is long enough is music for sure; what is short before it counts only if it begins alike.
  const model = runs.find(isLong);
  if (model === undefined) return [];
  let rises: ReturnType<TraceSource['rises']> | undefined;
  const likeness = (run: Run): number => {
    if (run === model) return Number.POSITIVE_INFINITY;
    rises ??= trace.rises();
    return beginAlike(rises, model, run);
  };
  const doesClap = claps[runs.indexOf(model)] !== undefined;
  const attempts: Attempt[] = [];
  runs.forEach((run, index) => {
    const clapSec = claps[index];
    const last = attempts.at(-1);
    const usual = doesClap && clapSec === undefined ? SAME_THOUGH_NO_CLAP : SAME_BEGINNING;
    const bar = isLong(run) ? usual : SAME_ATTEMPT;
    const isFirst = last === undefined && isLong(run);
    if (isFirst || (isLong(run) && clapSec !== undefined) || likeness(run) >= bar) {
      const by = clapSec === undefined ? 'music' : 'clap';
      attempts.push({ runs: [run], beginsSec: clapSec ?? run.fromSec, by });
    } else if (isLong(run)) last?.runs.push(run);
  });
  return attempts;
}

function partsOf(attempts: readonly Attempt[], lengthSec: number): FoundPart[] {
  const spanOf = ({ runs }: Attempt): number => runs.at(-1)!.toSec - runs[0]!.fromSec;
  const longest = Math.max(...attempts.map(spanOf));
  const bounds = attempts.slice(1).map(({ beginsSec }, index) => {
    const endSec = attempts[index]!.runs.at(-1)!.toSec;
    return endSec + Math.min(RING_SEC, RING_SHARE * Math.max(0, beginsSec - endSec));
  });
  return attempts.map((attempt, index) => ({
    fromSec: bounds[index - 1] ?? 0,
    toSec: bounds[index] ?? lengthSec,
    beginsSec: attempt.beginsSec,
    by: attempt.by,
    isBrokenOff: spanOf(attempt) < BROKEN_OFF_SHARE * longest,
  }));
}

/** Stretches of music between rests, in order; those of some seconds only are told too. */
function musicRuns({ energy }: Levels): Run[] {
  const size = Math.round(STEP_SEC / TICK_SEC);
  const count = Math.floor(energy.length / size);
  const window = new Float32Array(size);
  // The median of a step does not see a clap.
  const levelDb = Float64Array.from({ length: count }, (_, n) => {
    window.set(energy.subarray(n * size, (n + 1) * size));
    window.sort();
    return 10 * Math.log10(window[size >> 1]! + 1e-12);
  });
  const sorted = levelDb.slice().sort();
  const loud = sorted[Math.floor(0.9 * count)] ?? 0;
  const quiet = sorted[Math.floor(0.05 * count)] ?? 0;
  const bar = Math.max(loud - MUSIC_DB, Math.min(quiet + OUT_OF_QUIET_DB, loud - OUT_OF_QUIET_DB));
  const isLoud = Array.from(levelDb, (level) => level > bar);
  const ahead = Math.round(STEADY_SEC / STEP_SEC);
  /** How many of the next steps are loud. */
  const loudFrom = (n: number): number => isLoud.slice(n, n + ahead).filter(Boolean).length;
  const runs: { fromSec: number; toSec: number; steps: number }[] = [];
  for (let n = 0; n < count; n++) {
    if (!isLoud[n]) continue;
    const fromSec = n * STEP_SEC;
    const last = runs.at(-1);
    if (last !== undefined && fromSec - last.toSec < REST_SEC) {
      runs[runs.length - 1] = { fromSec: last.fromSec, toSec: fromSec + STEP_SEC, steps: last.steps + 1 };
    } else if (loudFrom(n) >= ahead / 2) runs.push({ fromSec, toSec: fromSec + STEP_SEC, steps: 1 });
  }
  return runs.filter((run) => {
    const isFilled = run.steps * STEP_SEC >= (run.toSec - run.fromSec) / 2;
    return run.toSec - run.fromSec >= LEAST_ATTEMPT_SEC && (isFilled || run.steps * STEP_SEC >= LEAST_MUSIC_SEC / 2);
  });
}
