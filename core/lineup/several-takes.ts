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
/**
 * A sound at the end of a run that is no longer, and stands apart from the rest of it by as much, s, may be handling: a bow laid
 * down, a chair. It may be the last chord of the piece as well; that stands at the end of the other takes too, so far and so long.
 */
const LONGEST_KNOCK_SEC = 2;
const KNOCK_APART_SEC = 1;
const ALIKE_SEC = 0.75;

/** One of several takes in a clip. Seconds of the clip. */
export interface FoundPart {
  /** From the rest before it to the rest after it; together the parts hold the whole clip. */
  readonly fromSec: number;
  readonly toSec: number;
  /** Where it begins for the ear: with its clap, else with its music. */
  readonly beginsSec: number;
  /** Where its music begins, and where it ends. */
  readonly musicSec: readonly [fromSec: number, toSec: number];
  /** How it was known: by its clap, or since the same music begins again. */
  readonly by: 'clap' | 'music';
  /** Much shorter than the longest: it seems to have been broken off. */
  readonly isBrokenOff: boolean;
}

interface Run {
  readonly fromSec: number;
  readonly toSec: number;
  /** A short sound at its end that stands apart: where what is before it ends, and where it begins. */
  readonly knock: { readonly afterSec: number; readonly atSec: number } | undefined;
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
  const isBrokenOff = attempts.map((attempt) => spanOf(attempt) < BROKEN_OFF_SHARE * longest);
  const ends = attempts.map((attempt, index) => endOf(attempt, index, attempts, isBrokenOff));
  const bounds = attempts.slice(1).map(({ beginsSec }, index) => {
    const { musicSec, quietUntilSec } = ends[index]!;
    return Math.min(quietUntilSec, musicSec + ringAfter(musicSec, beginsSec));
  });
  return attempts.map((attempt, index) => ({
    fromSec: bounds[index - 1] ?? 0,
    toSec: bounds[index] ?? lengthSec,
    beginsSec: attempt.beginsSec,
    musicSec: [attempt.runs[0]!.fromSec, ends[index]!.musicSec],
    by: attempt.by,
    isBrokenOff: isBrokenOff[index]!,
  }));
}

/** How long the end of a take is let sound on, s, when the next begins at a time. */
export function ringAfter(endSec: number, nextSec: number): number {
  return Math.min(RING_SEC, RING_SHARE * Math.max(0, nextSec - endSec));
}

/**
 * Where the music of an attempt ends, and until when what follows it is quiet. A short sound that stands apart at its end is
 * left to what follows where another whole take of the same music does not end so, or where the attempt was broken off.
 */
function endOf(
  { runs }: Attempt,
  index: number,
  attempts: readonly Attempt[],
  isBrokenOff: readonly boolean[],
): { readonly musicSec: number; readonly quietUntilSec: number } {
  const { toSec, knock } = runs.at(-1)!;
  const whole = { musicSec: toSec, quietUntilSec: Number.POSITIVE_INFINITY };
  if (knock === undefined) return whole;
  const others = attempts.filter((_, other) => other !== index && !isBrokenOff[other]);
  const isAlike = others.some(({ runs: theirs }) => {
    const last = theirs.at(-1)!;
    if (last.knock === undefined) return false;
    const apartSec = last.knock.atSec - last.knock.afterSec - (knock.atSec - knock.afterSec);
    const longerSec = last.toSec - last.knock.atSec - (toSec - knock.atSec);
    return Math.abs(apartSec) <= ALIKE_SEC && Math.abs(longerSec) <= ALIKE_SEC;
  });
  if (isAlike || (others.length === 0 && !isBrokenOff[index])) return whole;
  return { musicSec: knock.afterSec, quietUntilSec: knock.atSec - STEP_SEC };
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
  const found = runs.map((run) => ({ ...run, knock: knockIn(isLoud, run) }));
  return found.filter((run) => {
    const isFilled = run.steps * STEP_SEC >= (run.toSec - run.fromSec) / 2;
    return run.toSec - run.fromSec >= LEAST_ATTEMPT_SEC && (isFilled || run.steps * STEP_SEC >= LEAST_MUSIC_SEC / 2);
  });
}

/** The last sound of a run, where it is short and stands apart; undefined where it is no such. */
function knockIn(isLoud: readonly boolean[], { fromSec, toSec }: { fromSec: number; toSec: number }): Run['knock'] {
  const [from, to] = [Math.round(fromSec / STEP_SEC), Math.round(toSec / STEP_SEC)];
  const begins = isLoud.lastIndexOf(false, to - 1) + 1;
  // Within a knock there may be moments of quiet.
  let at = begins;
  for (let quiet = 0, n = begins - 1; n >= from; n--) {
    if (!isLoud[n]) quiet++;
    else {
      if (quiet * STEP_SEC >= KNOCK_APART_SEC) {
        const isShort = (to - at) * STEP_SEC <= LONGEST_KNOCK_SEC;
        return isShort ? { afterSec: (n + 1) * STEP_SEC, atSec: at * STEP_SEC } : undefined;
      }
      quiet = 0;
      at = n;
    }
    if ((to - at) * STEP_SEC > LONGEST_KNOCK_SEC) return undefined;
  }
  return undefined;
}
