import type { Sound } from '../signal/sound.ts';
import { BeginningFinder, type FineBeginning, type RoughBeginning, WAYS } from './fine-beginnings.ts';
import { type Line, takeSecOn } from './line.ts';
import { loneFrames } from './lone-frames.ts';
import type { Lateness } from './step-test.ts';
import { FRAME_SEC, LINES, type Rises } from './trace.ts';

/** Frames between a rise of one sound and its like in the other. */
const REACH = 4;
/** A beginning is a moment at which more rises alike than within so many frames of it, and this share of what usually does. */
const ALONE = 4;
const LEAST_SHARE = 0.15;
const USUAL_QUANTILE = 0.95;
/** How far a note is looked for about its place, s: no farther than this share of the way to the next. */
const MOST_REACH_SEC = 0.1;
const LEAST_REACH_SEC = 0.06;
const REACH_SHARE = 0.45;
/** What begins so near to a cue is the cue or the clap on it, s. */
const CUE_SEC = 0.3;
/** In the mark notes lie within this of their coarse place, s, and are heard in this way: it changes little there. */
const MARK_REACH_SEC = 0.05;
const MARK_WAY = 0;
/** Beginnings by which the way to hear a take is chosen. */
const TRIED = 200;
/**
 * Lags that scatter more in the mean are of notes that have nothing to do with one another, as where a take was laid a beat off: 24 ms were seen
 * there, 15 at most of 31 instruments in their places.
 */
const MOST_SCATTER_SEC = 0.02;
/** Fewer beginnings tell nothing. */
const LEAST_NOTES = 12;
/** A note farther from those about it than so many usual scatters is no nearer than that: it was mistaken for another. */
const MOST_SCATTERS = 2.5;
const ABOUT_NOTES = 9;
/** One farther off counts as being off by this, s. */
const MISTAKEN_SEC = 0.04;
/** Notes that weigh less than this, of the 1 that a usual one weighs, are left out. */
const LEAST_WEIGHT = 0.05;
/** Notes within so long make one entry, s. */
export const CELL_SEC = 1;

/** When the notes of a guide, or of the take that serves as mark, begin; each is looked for once. */
export class MarkBeginnings {
  readonly rises: Rises;
  /** Where the player claps, s: a clap is no note. */
  readonly cuesSec: readonly number[];
  readonly #sound: Sound;
  #finder: BeginningFinder | undefined;
  /** By frame of the rises, s. */
  readonly #known = new Map<number, number>();

  constructor(sound: Sound, rises: Rises, cuesSec: readonly number[] = []) {
    this.#sound = sound;
    this.cuesSec = cuesSec;
    this.rises = rises;
  }

  /** At frames of the rises, s. */
  at(frames: readonly number[]): number[] {
    const news = frames.filter((frame) => !this.#known.has(frame));
    this.#finder ??= new BeginningFinder(this.#sound);
    const moments = news.map((frame) => ({ atSec: secOf(frame), reachSec: MARK_REACH_SEC }));
    for (const [n, [found]] of this.#finder.find(moments, [MARK_WAY]).entries())
      this.#known.set(news[n]!, found!.atSec);
    return frames.map((frame) => this.#known.get(frame)!);
  }
}

/** What rises in a frame does so since the one before. */
function secOf(frame: number): number {
  return (frame - 0.5) * FRAME_SEC;
}

/**
 * How late a take's notes are against a mark, note by note, gathered in cells of a second, in order of time; undefined where too few
 * notes begin alike. line: the clock on which they are looked for; what is given is against one without drift of the same lead.
 * broad: compares only when anything begins. Of sampled notes of 13 instruments stretches of 4 s err
 * by less than half of what those of `fitOnsets` err by (mean over 25 takes of the root of the mean square: 4.8 ms, 10.8).
 */
export function fineLateness(
  mark: MarkBeginnings,
  take: { readonly sound: Sound; readonly rises: Rises },
  line: Line,
  broad: boolean,
): Lateness[] | undefined {
  const isCue = (frame: number): boolean => mark.cuesSec.some((cue) => Math.abs(secOf(frame) - cue) < CUE_SEC);
  const frames = commonBeginnings(mark.rises, take.rises, line, broad).filter((frame) => !isCue(frame));
  if (frames.length < LEAST_NOTES) return undefined;
  const marks = mark.at(frames);
  const rough = marks.map((atSec, n): RoughBeginning => {
    const before = marks[n - 1] ?? Number.NEGATIVE_INFINITY;
    const after = marks[n + 1] ?? Number.POSITIVE_INFINITY;
    const roomSec = REACH_SHARE * Math.min(atSec - before, after - atSec);
    return { atSec: takeSecOn(line, atSec), reachSec: Math.max(LEAST_REACH_SEC, Math.min(MOST_REACH_SEC, roomSec)) };
  });
  const { lags, scatterSec } = leastScattered(new BeginningFinder(take.sound), marks, rough, line);
  if (scatterSec > MOST_SCATTER_SEC) return undefined;
  const even = { leadSec: line.leadSec, driftPpm: 0 };
  return inCells(weighed(lags)).map((one) => ({
    ...one,
    laterSec: one.laterSec + takeSecOn(line, one.atSec) - takeSecOn(even, one.atSec),
  }));
}

/**
 * Lags by the way to hear the take that makes them scatter least: that tells most of the player, who is the same by each. In a long take some
 * of the notes, spread over all of it, choose the way.
 */
function leastScattered(
  finder: BeginningFinder,
  marks: readonly number[],
  rough: readonly RoughBeginning[],
  line: Line,
): Calmed {
  const lagOf = (n: number, { atSec: takeSec, height }: FineBeginning): Lateness => {
    const atSec = marks[n]!;
    return { atSec, laterSec: takeSec - takeSecOn(line, atSec), weight: height };
  };
  const every = Math.ceil(marks.length / TRIED);
  const tried = marks.map((_, n) => n).filter((n) => n % every === 0);
  const found = finder.find(
    tried.map((n) => rough[n]!),
    WAYS,
  );
  const ways = WAYS.map((way) => calmed(found.map((ones, k) => lagOf(tried[k]!, ones[way]!))));
  const best = ways.reduce((least, one, way) => (one.scatterSec < ways[least]!.scatterSec ? way : least), 0);
  if (every === 1) return ways[best]!;
  const rest = marks.map((_, n) => n).filter((n) => n % every !== 0);
  const heard = finder.find(
    rest.map((n) => rough[n]!),
    [WAYS[best]!],
  );
  const heardAt = (n: number): FineBeginning =>
    n % every === 0 ? found[n / every]![best]! : heard[n - Math.ceil(n / every)]![0]!;
  return calmed(marks.map((_, n) => lagOf(n, heardAt(n))));
}

interface Calmed {
  readonly lags: readonly Lateness[];
  readonly scatterSec: number;
}

/** Frames of the mark in which notes begin that begin in the take as well. */
export function commonBeginnings(mark: Rises, take: Rises, line: Line, broad: boolean): number[] {
  const likeness = new Float64Array(mark.frames);
  const row = new Float32Array(LINES);
  for (let frame = 0; frame < mark.frames; frame++) {
    const [from, to] = [mark.riseFrom[frame]!, mark.riseFrom[frame + 1]!];
    if (from === to) continue;
    row.fill(0);
    let all = 0;
    for (let i = from; i < to; i++) {
      row[mark.riseLine[i]!] = mark.riseBy[i]!;
      all += mark.riseBy[i]!;
    }
    const middle = Math.round(takeSecOn(line, frame * FRAME_SEC) / FRAME_SEC);
    for (let other = Math.max(0, middle - REACH); other <= middle + REACH && other < take.frames; other++) {
      let sum = 0;
      for (let i = take.riseFrom[other]!; i < take.riseFrom[other + 1]!; i++) {
        sum += broad ? take.riseBy[i]! : Math.min(take.riseBy[i]!, row[take.riseLine[i]!]!);
      }
      likeness[frame] = Math.max(likeness[frame]!, broad ? Math.sqrt(sum * all) : sum);
    }
  }
  return loneFrames(likeness, LEAST_SHARE, USUAL_QUANTILE, ALONE);
}

/** Notes that lie far from those about them drawn near, and how far they lie from those in the mean, s. */
function calmed(lags: readonly Lateness[]): Calmed {
  const usual = lags.map((_, n) => {
    const from = Math.max(0, Math.min(lags.length - ABOUT_NOTES, n - (ABOUT_NOTES >> 1)));
    return middleOf(lags.slice(from, from + ABOUT_NOTES).map((one) => one.laterSec));
  });
  const apart = lags.map((one, n) => Math.abs(one.laterSec - usual[n]!));
  const most = MOST_SCATTERS * Math.max(0.001, 1.4826 * middleOf(apart));
  const calm = lags.map((one, n) => {
    const off = Math.max(-most, Math.min(most, one.laterSec - usual[n]!));
    return { ...one, laterSec: usual[n]! + off };
  });
  const scatterSec = apart.reduce((sum, one) => sum + Math.min(MISTAKEN_SEC, one), 0) / lags.length;
  return { lags: calm, scatterSec };
}

/** Weights from heights: what hardly rises was likely no note of the take's. */
function weighed(lags: readonly Lateness[]): Lateness[] {
  const usual = middleOf(lags.map((one) => one.weight));
  return lags
    .map((one) => ({ ...one, weight: Math.min(1, one.weight / usual) ** 2 }))
    .filter((one) => one.weight > LEAST_WEIGHT);
}

function middleOf(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1]!;
}

function inCells(lags: readonly Lateness[]): Lateness[] {
  const cells: Lateness[] = [];
  for (let from = 0; from < lags.length; ) {
    let to = from + 1;
    while (to < lags.length && lags[to]!.atSec - lags[from]!.atSec < CELL_SEC) to++;
    const some = lags.slice(from, to);
    const weight = some.reduce((sum, one) => sum + one.weight, 0);
    const mean = (of: (one: Lateness) => number): number =>
      some.reduce((sum, one) => sum + one.weight * of(one), 0) / weight;
    cells.push({ atSec: mean((one) => one.atSec), laterSec: mean((one) => one.laterSec), weight, lengthSec: CELL_SEC });
    from = to;
  }
  return cells;
}
