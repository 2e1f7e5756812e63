import type { SessionSpan } from './picture-design.ts';

/** How loud a voice is over session time. */
export interface VoiceLevels {
  readonly voiceId: string;
  /** Each `LEVEL_SEC` from session time zero: momentary loudness above the voice's own integrated one, LU; -Infinity silent. */
  readonly levelsLu: readonly number[];
}

/** Levels lie so far apart, s. */
export const LEVEL_SEC = 0.1;
/** Averaged over this, s: between momentary (0.4 s) and short-term loudness (3 s) of EBU Tech 3341. */
const OVER_SEC = 1;
/** A voice leads clearly when it is so far above every other, LU: a melody before its accompaniment is some 6. */
const LEADS_LU = 9;
/** It sounds when it is no farther than this below its own loudness, LU: the relative gate of EBU Tech 3342 is 20. */
const SOUNDS_LU = -14;
/** A breath within a solo, and the shortest solo, s. */
const BREATH_SEC = 1.2;
const SHORTEST_SEC = 3;

/**
 * Stretches in which one voice sounds alone or clearly leads, by voice id; they do not overlap, each is 3 s or longer. What
 * is compared is each voice against its own loudness, which is how a blend balances them. Pure; time: one pass.
 */
export function soloStretches(voices: readonly VoiceLevels[]): Map<string, readonly SessionSpan[]> {
  const smooth = voices.map(({ levelsLu }) => smoothed(levelsLu));
  const length = Math.max(0, ...smooth.map((levels) => levels.length));
  const leaders = Array.from({ length }, (_, at) => leaderAt(smooth, at));
  const result = new Map<string, readonly SessionSpan[]>();
  for (const [index, { voiceId }] of voices.entries()) {
    const stretches = stretchesOf(leaders, index);
    if (stretches.length > 0) result.set(voiceId, stretches);
  }
  return result;
}

/** Means of power around each moment, LU. */
function smoothed(levels: readonly number[]): number[] {
  const half = Math.round(OVER_SEC / LEVEL_SEC / 2);
  const sums = new Float64Array(levels.length + 1);
  for (const [at, level] of levels.entries()) sums[at + 1] = sums[at]! + 10 ** (level / 10);
  return levels.map((_, at) => {
    const [from, to] = [Math.max(0, at - half), Math.min(levels.length, at + half + 1)];
    return 10 * Math.log10((sums[to]! - sums[from]!) / (to - from));
  });
}

/** The voice that is alone or clearly leads at a moment; -1: none does. */
function leaderAt(voices: readonly (readonly number[])[], at: number): number {
  let [first, second] = [Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY];
  let leader = -1;
  for (const [index, levels] of voices.entries()) {
    const level = levels[at] ?? Number.NEGATIVE_INFINITY;
    if (level > first) [first, second, leader] = [level, first, index];
    else if (level > second) second = level;
  }
  return first >= SOUNDS_LU && first - second >= LEADS_LU ? leader : -1;
}

function stretchesOf(leaders: readonly number[], voice: number): SessionSpan[] {
  const breath = BREATH_SEC / LEVEL_SEC;
  const found: [number, number][] = [];
  for (const [at, leader] of leaders.entries()) {
    if (leader !== voice) continue;
    const last = found.at(-1);
    const isBreath =
      last !== undefined && at - last[1] <= breath && leaders.slice(last[1], at).every((other) => other === -1);
    if (last !== undefined && (at === last[1] || isBreath)) last[1] = at + 1;
    else found.push([at, at + 1]);
  }
  return found
    .map(([from, to]) => ({ fromSec: from * LEVEL_SEC, toSec: to * LEVEL_SEC }))
    .filter(({ fromSec, toSec }) => toSec - fromSec >= SHORTEST_SEC)
    .map(({ fromSec, toSec }) => ({ fromSec: tenth(fromSec), toSec: tenth(toSec) }));
}

function tenth(sec: number): number {
  return Math.round(sec * 10) / 10;
}

/** A take's levels laid on session time: momentary loudness each 0.1 s of its own time, LUFS. */
export function levelsOnSession(
  momentaryLufs: readonly number[],
  integratedLufs: number,
  sessionSecOfTake: (takeSec: number) => number,
): number[] {
  const levels: number[] = [];
  for (const [at, level] of momentaryLufs.entries()) {
    // A momentary value tells of the 0.4 s before it; it stands in their middle.
    const place = Math.round(sessionSecOfTake(at * LEVEL_SEC - 0.2) / LEVEL_SEC);
    if (place < 0) continue;
    while (levels.length < place) levels.push(levels.at(-1) ?? Number.NEGATIVE_INFINITY);
    levels[place] = level <= -120 ? Number.NEGATIVE_INFINITY : level - integratedLufs;
  }
  return levels;
}
