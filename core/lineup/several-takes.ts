import { findClapSounds } from './clap.ts';
import { type Levels, TICK_SEC } from './trace.ts';

/** Levels are looked at in steps of this, s. */
const STEP_SEC = 0.25;
/** A rest in the music is shorter than this, s: in a longer one a new take may begin. */
const REST_SEC = 4;
/** A run of music is no shorter, s; claps, counting and tuning are. */
const LEAST_MUSIC_SEC = 8;
/** A clap between two takes is at least so like one. */
const LEAST_LIKENESS = 0.5;
/** More sharp sounds in one rest are a click that is heard, or knocking about. */
const MOST_CLAPS = 4;
/** Music is at most this far below the loud moments of the clip, dB, and stands this far out of its quiet. */
const MUSIC_DB = 30;
const OUT_OF_QUIET_DB = 8;

/**
 * Where the takes of a clip begin that holds several one after another, seconds of the clip; empty where it holds one. A
 * take begins with a clap that stands between two stretches of music, in a rest of 4 s or more: a long rest alone is part
 * of the piece. The first begins with its own clap, or where its music does.
 */
export function severalTakes(levels: Levels): number[] {
  const runs = musicRuns(levels);
  if (runs.length < 2) return [];
  const claps = findClapSounds(levels).filter(({ likeness }) => likeness >= LEAST_LIKENESS);
  const begins: number[] = [];
  runs.forEach((run, index) => {
    const since = runs[index - 1]?.toSec ?? 0;
    const between = claps.filter(({ atSec }) => atSec > since + 0.5 && atSec < run.fromSec + STEP_SEC);
    const clap = between.at(-1);
    if (clap !== undefined && between.length <= MOST_CLAPS) begins.push(clap.atSec);
    else if (index === 0) begins.push(run.fromSec);
  });
  return begins.length < 2 ? [] : begins;
}

function musicRuns({ energy }: Levels): { fromSec: number; toSec: number }[] {
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
  const runs: { fromSec: number; toSec: number; steps: number }[] = [];
  for (let n = 0; n < count; n++) {
    if (levelDb[n]! <= bar) continue;
    const fromSec = n * STEP_SEC;
    const last = runs.at(-1);
    if (last !== undefined && fromSec - last.toSec < REST_SEC) {
      runs[runs.length - 1] = { fromSec: last.fromSec, toSec: fromSec + STEP_SEC, steps: last.steps + 1 };
    } else runs.push({ fromSec, toSec: fromSec + STEP_SEC, steps: 1 });
  }
  return runs.filter(
    (run) => run.steps * STEP_SEC >= LEAST_MUSIC_SEC / 2 && run.toSec - run.fromSec >= LEAST_MUSIC_SEC,
  );
}
