import { powerToDb } from '../signal/decibels.ts';
import type { Sound } from '../signal/sound.ts';
import { type Levels, TICK_SEC } from './trace.ts';

/** A sound in a take that may be the clap. */
export interface ClapSound {
  /** Where it begins to rise, s from the take's first frame, to about 2 ms; `locateAttack` finds it to 0.2 ms. */
  readonly atSec: number;
  /** How far its edge stands out over the half second before, dB. */
  readonly riseDb: number;
  /** Time until it has fallen by 20 dB, s. */
  readonly fallSec: number;
  /** Level of its edge, dB full scale. */
  readonly levelDb: number;
  /** Edge power over sound power: 0 dB or more is bright as white noise, far below is a thump. */
  readonly brightDb: number;
  /** How like a clap it is by itself, 0 to 1. */
  readonly likeness: number;
}

const LEAST_RISE_DB = 5;
const MOST_SOUNDS = 400;
const REACH_SEC = 0.25;
const GAP_SEC = 0.008;

/**
 * Every sharp sound of a take, in order of time.
 *
 * A clap rises within some milliseconds by much over what was before, is bright, falls by 20 dB within some 0.2 s even
 * in a live room (a key's click within 10 ms), and stands alone. A chair or a key does too: who is the clap is decided where the guide or the other
 * takes are known, see `weigh`.
 */
export function findClapSounds(levels: Levels): ClapSound[] {
  const edge = levels.edge;
  const rises = new RiseSearch(edge);
  const sounds: ClapSound[] = [];
  for (let i = rises.next(0); i >= 0; i = rises.next(i + 1)) {
    const peakAt = largest(edge, i, Math.min(edge.length, i + 12));
    sounds.push(describe(levels, rises.before, i, peakAt));
    i = soundEnd(edge, peakAt);
  }
  if (sounds.length <= MOST_SOUNDS) return sounds;
  const bar = sounds.map((sound) => sound.likeness).sort((a, b) => b - a)[MOST_SOUNDS]!;
  return sounds.filter((sound) => sound.likeness > bar);
}

/**
 * Finds where an edge rises over the usual level before it: a slow mean of the quarter second that ended 8 ms ago, in power. What runs tick by tick is
 * a small loop of its own, which the engine compiles once: as part of a larger one it did so again and again.
 */
class RiseSearch {
  /** The usual level before the place that was found last. */
  before = 0;
  readonly #edge: Float32Array;
  readonly #gap = Math.round(GAP_SEC / TICK_SEC);
  readonly #reach = Math.round(REACH_SEC / TICK_SEC);
  /** The sum of the quarter second, and up to which tick it is made. */
  readonly #state = new Float64Array(2);

  constructor(edge: Float32Array) {
    this.#edge = edge;
  }

  /** The next such place from a tick on, -1 where there is none. tick: after that of the last call. */
  next(tick: number): number {
    const last = this.#edge.length - 4;
    for (let from = Math.max(tick, this.#gap + 4); from < last; from += PIECE) {
      const at = riseFrom(this.#edge, from, Math.min(last, from + PIECE), this.#gap, this.#reach, this.#state);
      if (at < 0) continue;
      this.before = usual(this.#state[0]!, at, this.#gap, this.#reach);
      return at;
    }
    return -1;
  }
}

const LEAST_RISE = 10 ** (LEAST_RISE_DB / 10);

/** Ticks that are searched at once: where the loop's end has been seen before it is compiled, that is done once. */
const PIECE = 256;

/** The first rise from a tick to before another, -1 where there is none. */
function riseFrom(
  edge: Float32Array,
  from: number,
  to: number,
  gap: number,
  reach: number,
  state: Float64Array,
): number {
  let sum = state[0]!;
  let next = state[1]!;
  let found = -1;
  for (let i = from; i < to; i++) {
    for (; next <= i; next++) {
      const enter = next - gap;
      if (enter >= 0) sum += edge[enter]!;
      const leave = enter - reach;
      if (leave >= 0) sum -= edge[leave]!;
    }
    const now = (edge[i]! + edge[i + 1]! + edge[i + 2]!) / 3;
    if (!(now < LEAST_RISE * usual(sum, i, gap, reach))) {
      found = i;
      break;
    }
  }
  state[0] = sum;
  state[1] = next;
  return found;
}

function usual(sum: number, tick: number, gap: number, reach: number): number {
  return Math.max(sum, 0) / Math.max(1, Math.min(reach, tick - gap + 1)) + 1e-14;
}

/** What follows within 60 ms is the same sound, unless it is much louder. */
function soundEnd(edge: Float32Array, peakAt: number): number {
  const to = Math.min(edge.length, peakAt + Math.round(0.06 / TICK_SEC));
  for (let i = peakAt + 3; i < to; i++) if (edge[i]! > 4 * edge[peakAt]!) return i - 3;
  return to;
}

function largest(values: Float32Array, from: number, to: number): number {
  let best = from;
  for (let i = from; i < to; i++) if (values[i]! > values[best]!) best = i;
  return best;
}

function describe(levels: Levels, before: number, from: number, peakAt: number): ClapSound {
  const { edge, energy } = levels;
  const to = Math.min(edge.length, peakAt + 4);
  const peak = Math.max(0, edge[largest(edge, from, to)]!);
  const sound = Math.max(0, energy[largest(energy, from, to)]!);
  const fall = fallFrom(edge, peakAt, 0.01 * peak + 1.5 * before);
  const riseDb = powerToDb(peak / before);
  const fallSec = (fall - peakAt) * TICK_SEC;
  const levelDb = powerToDb(peak + 1e-14);
  const brightDb = powerToDb((peak + 1e-14) / (sound + 1e-14));
  const attackSec = (peakAt - from) * TICK_SEC;
  const likeness =
    soft(riseDb, 12, 4) *
    soft(0.3 - fallSec, 0, 0.06) *
    soft(fallSec, 0.016, 0.004) *
    soft(brightDb, -16, 3) *
    soft(0.016 - attackSec, 0, 0.004);
  return { atSec: from * TICK_SEC, riseDb, fallSec, levelDb, brightDb, likeness };
}

/** Where an edge has fallen below a bar, 500 ticks later at most; nothing is behind its end. */
function fallFrom(edge: Float32Array, peakAt: number, bar: number): number {
  const count = edge.length;
  const last = Math.min(count, peakAt + 500);
  for (let fall = peakAt; fall < last; fall++) {
    const second = fall + 1 < count ? edge[fall + 1]! : 0;
    const third = fall + 2 < count ? edge[fall + 2]! : 0;
    if ((edge[fall]! + second + third) / 3 < bar) return fall;
  }
  return last;
}

/** 0 far below `middle`, 1 far above it, one half at it. */
function soft(value: number, middle: number, width: number): number {
  return 1 / (1 + Math.exp(-(value - middle) / width));
}

const GRAIN_SEC = 0.0001;
/** A lossy coder smears some of an attack over the milliseconds before it: at most this share of its power, for so long. */
const CODER_ECHO = 0.01;
const ECHOES_SEC = [0.001, 0.002, 0.003, 0.004] as const;
/** What assuming an echo costs, in logarithm of likelihood, so that none is seen in noise. */
const ECHO_COST = 4;
/** Nothing this far below the attack is taken for sound, even in a silent room (35 dB). */
const MASK = 0.0003;
const RAMPS_SEC = [0.0002, 0.0005, 0.001, 0.0015, 0.002, 0.0025, 0.003, 0.0035, 0.004] as const;

/**
 * The moment at which an attack starts to rise out of the noise, s from the sound's first frame.
 *
 * The sound is taken as noise whose variance is that of the room before the attack and then grows as a straight ramp
 * of amplitude until it is full; start and length of the ramp with the greatest likelihood win. So it is the beginning
 * that is found and not the peak, and a soft beginning under the noise is still placed by the shape above it. The
 * first difference whitens room noise. nearSec: where to look, within 14 ms.
 * Measured on 14 takes with modelled claps: see the tests.
 */
export function locateAttack(sound: Sound, nearSec: number): number {
  const rate = sound.rateHz;
  const grain = Math.max(1, Math.round(GRAIN_SEC * rate));
  const grainSec = grain / rate;
  const beforeGrains = Math.round(0.08 / grainSec);
  const grains = beforeGrains + Math.round(0.022 / grainSec);
  const first = Math.round(nearSec * rate) - beforeGrains * grain;
  const samples = new Float32Array(grains * grain + 1);
  sound.read(first - 1, samples);
  const power = new Float64Array(grains);
  for (let g = 0; g < grains; g++) {
    let sum = 0;
    for (let n = 0; n < grain; n++) {
      const at = g * grain + n + 1;
      const step = samples[at]! - samples[at - 1]!;
      sum += step * step;
    }
    power[g] = sum / grain + 1e-14;
  }
  const noise = roomPower(power, beforeGrains - Math.round(0.014 / grainSec));
  const best = fitRamp(power, noise, beforeGrains, grainSec);
  return (first + best * grain) / rate;
}

function roomPower(power: Float64Array, until: number): number {
  let sum = 0;
  for (let g = 0; g < until; g++) sum += power[g]!;
  return sum / Math.max(1, until);
}

function fitRamp(power: Float64Array, noise: number, middle: number, grainSec: number): number {
  const from = Math.max(1, middle - Math.round(0.014 / grainSec));
  const to = middle + Math.round(0.01 / grainSec);
  const fullGrains = Math.round(0.004 / grainSec);
  const powerUntil = new Float64Array(power.length + 1);
  for (let g = 0; g < power.length; g++) powerUntil[g + 1] = powerUntil[g]! + power[g]!;
  const loud = loudest(powerUntil, fullGrains);
  const mask = MASK * loud;
  const floor = noise + mask;
  let bestCost = Number.POSITIVE_INFINITY;
  let bestStart = middle;
  for (const rampSec of RAMPS_SEC) {
    const ramp = Math.max(1, Math.round(rampSec / grainSec));
    for (let start = from; start < to; start++) {
      const end = Math.min(power.length, start + ramp + fullGrains);
      const rampEnd = Math.min(start + ramp, end);
      const full = Math.max((powerUntil[end]! - powerUntil[rampEnd]!) / Math.max(1, end - rampEnd) - noise, 1e-12);
      let cost = beforeCost(powerUntil, start, floor, mask, CODER_ECHO * loud, grainSec);
      for (let g = start; g < rampEnd; g++) {
        const share = (g + 0.5 - start) / ramp;
        const variance = floor + full * share ** 3;
        cost += Math.log(variance) + (power[g]! + mask) / variance;
      }
      // What follows the ramp is left out of the contest: there every hypothesis explains it by its own mean.
      const restGrains = power.length - rampEnd;
      const rest = powerUntil[power.length]! - powerUntil[rampEnd]!;
      cost += restGrains * (Math.log(rest / restGrains) + 1);
      if (cost < bestCost) {
        bestCost = cost;
        bestStart = start;
      }
    }
  }
  return bestStart;
}

/** Cost of what lies before an attack: the room alone, or the room and then a coder's echo. */
function beforeCost(
  powerUntil: Float64Array,
  start: number,
  floor: number,
  mask: number,
  mostEcho: number,
  grainSec: number,
): number {
  const room = (until: number): number => until * (Math.log(floor) + mask / floor) + powerUntil[until]! / floor;
  let cost = room(start);
  for (const echoSec of ECHOES_SEC) {
    const length = Math.round(echoSec / grainSec);
    if (length < 1 || length > start) continue;
    const mean = (powerUntil[start]! - powerUntil[start - length]!) / length + mask;
    if (mean <= floor || mean > mostEcho) continue;
    cost = Math.min(cost, room(start - length) + length * (Math.log(mean) + 1) + ECHO_COST);
  }
  return cost;
}

/** Greatest mean power over any `span` grains. */
function loudest(powerUntil: Float64Array, span: number): number {
  let most = 0;
  for (let g = span; g < powerUntil.length; g++) most = Math.max(most, powerUntil[g]! - powerUntil[g - span]!);
  return most / span;
}
