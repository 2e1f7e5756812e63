import { Random } from '../../../core/signal/random.ts';
import { type Sound, soundOf } from '../../../core/signal/sound.ts';

/** Rate of the invented sounds: low, to keep tests quick. */
export const RATE_HZ = 16000;

/** A note of an invented piece. */
export interface Note {
  readonly atSec: number;
  readonly hz: number;
  readonly lengthSec: number;
}

/** Where an invented take lies: take time of session time s is leadSec + (1 + driftPpm / 1e6) s. */
export interface Truth {
  readonly leadSec: number;
  readonly driftPpm: number;
}

const SCALE_HZ = [220, 247, 262, 294, 330, 349, 392, 440, 494, 523] as const;

/** Notes on and between beats, from a seed. */
export function inventNotes(seed: number, fromSec: number, toSec: number, beatSec = 0.6): Note[] {
  const random = new Random(seed);
  const notes: Note[] = [];
  let at = fromSec;
  while (at < toSec - beatSec) {
    const beats = random.uniform() < 0.3 ? 2 : random.uniform() < 0.3 ? 0.5 : 1;
    const hz = SCALE_HZ[Math.floor(random.uniform() * SCALE_HZ.length)]!;
    notes.push({ atSec: at, hz, lengthSec: 0.9 * beats * beatSec });
    at += beats * beatSec;
  }
  return notes;
}

/** Adds notes of three partials with an attack of attackSec. */
export function addNotes(to: Float32Array, notes: readonly Note[], gain: number, truth: Truth, attackSec = 0.01): void {
  const speed = 1 + truth.driftPpm * 1e-6;
  for (const note of notes) {
    const start = (truth.leadSec + note.atSec * speed) * RATE_HZ;
    const first = Math.ceil(start);
    const count = Math.round(note.lengthSec * RATE_HZ);
    const step = (2 * Math.PI * note.hz) / RATE_HZ;
    const from = Math.max(0, -first);
    const turn = new Turn((first + from - start) * step, step);
    for (let n = from; n < count && first + n < to.length; n++, turn.next()) {
      const t = (first + n - start) / RATE_HZ;
      const rise = Math.min(1, t / attackSec) * Math.min(1, (count - n) / (0.02 * RATE_HZ));
      const { sin, cos } = turn;
      to[first + n]! += gain * rise * sin * (1 + cos + (3 - 4 * sin * sin) / 3);
    }
  }
}

/**
 * Sine and cosine of an angle that grows evenly, by turning on: most of the time of a test went into sines. Within 1e-12
 * over a note.
 */
export class Turn {
  sin: number;
  cos: number;
  readonly #sin: number;
  readonly #cos: number;

  constructor(from: number, step: number) {
    this.sin = Math.sin(from);
    this.cos = Math.cos(from);
    this.#sin = Math.sin(step);
    this.#cos = Math.cos(step);
  }

  next(): void {
    const sin = this.sin * this.#cos + this.cos * this.#sin;
    this.cos = this.cos * this.#cos - this.sin * this.#sin;
    this.sin = sin;
  }
}

/** Adds a short tone, as a guide's click or cue. */
export function addClick(
  to: Float32Array,
  atSec: number,
  hz: number,
  gain: number,
  lengthSec: number,
  speed = 1,
): void {
  const start = atSec * RATE_HZ;
  for (let at = Math.ceil(start); at < start + lengthSec * RATE_HZ && at < to.length; at++) {
    if (at < 0) continue;
    const t = (at - start) / RATE_HZ / speed;
    to[at]! += gain * Math.sin(2 * Math.PI * hz * t) * Math.exp((-3 * t) / lengthSec);
  }
}

/** Adds a clap: noise that rises within 3 ms and dies away within some 80 ms. Begins at atSec exactly. */
export function addClap(to: Float32Array, atSec: number, gain: number, random: Random): void {
  const start = atSec * RATE_HZ;
  for (let at = Math.ceil(start); at < start + 0.25 * RATE_HZ && at < to.length; at++) {
    const t = (at - start) / RATE_HZ;
    const envelope = t < 0.003 ? t / 0.003 : Math.exp(-(t - 0.003) / 0.02) + 0.05 * Math.exp(-t / 0.08);
    if (at >= 0) to[at]! += gain * envelope * random.gaussian();
  }
}

/** Adds white noise. */
export function addNoise(to: Float32Array, gain: number, random: Random): void {
  for (let n = 0; n < to.length; n++) to[n]! += gain * random.gaussian();
}

/** A guide: silence, a cue, four clicks, then the notes over clicks; perhaps a second cue after the music. */
export interface Guide {
  readonly sound: Sound;
  readonly cueSec: number;
  readonly secondCueSec: number;
  readonly musicFromSec: number;
  readonly musicToSec: number;
  readonly notes: readonly Note[];
  readonly clicks: readonly number[];
}

/** Renders what a guide sounds like on any clock, into `to`. */
export function addGuide(to: Float32Array, guide: Omit<Guide, 'sound'>, gain: number, truth: Truth): void {
  const speed = 1 + truth.driftPpm * 1e-6;
  const onClock = (sec: number): number => truth.leadSec + sec * speed;
  addClick(to, onClock(guide.cueSec), 1000, 0.5 * gain, 0.1, speed);
  addClick(to, onClock(guide.secondCueSec), 1000, 0.5 * gain, 0.1, speed);
  for (const click of guide.clicks) addClick(to, onClock(click), 1500, 0.5 * gain, 0.03, speed);
  addNotes(to, guide.notes, 0.1 * gain, truth);
}

/** A guide with musicSec of music from a seed. */
export function inventGuide(seed: number, musicSec: number): Guide {
  const cueSec = 2.5;
  const musicFromSec = 6.4;
  const musicToSec = musicFromSec + musicSec;
  const secondCueSec = musicToSec + 2;
  const notes = inventNotes(seed, musicFromSec, musicToSec);
  const clicks: number[] = [];
  for (let at = musicFromSec - 2.4; at < musicToSec; at += 0.6) clicks.push(at);
  const plan = { cueSec, secondCueSec, musicFromSec, musicToSec, notes, clicks };
  const samples = new Float32Array(Math.round((secondCueSec + 1.5) * RATE_HZ));
  addGuide(samples, plan, 1, { leadSec: 0, driftPpm: 0 });
  return { ...plan, sound: soundOf(samples, RATE_HZ) };
}

/** What a take of a guide holds. */
export interface TakePlan {
  readonly seed: number;
  readonly truth: Truth;
  /** Spread of the player's notes, s. */
  readonly noteSpreadSec: number;
  /** Session times of claps. */
  readonly clapsSec: readonly number[];
  readonly noise: number;
  /** Level of the guide's leakage, linear; 0 for none. */
  readonly bleed: number;
}

/** Plays the guide's notes as a take. */
export function inventTake(guide: Guide, plan: TakePlan): Sound {
  const random = new Random(plan.seed);
  const speed = 1 + plan.truth.driftPpm * 1e-6;
  const lengthSec = plan.truth.leadSec + (guide.secondCueSec + 1.5) * speed;
  const samples = new Float32Array(Math.round(lengthSec * RATE_HZ));
  addNoise(samples, plan.noise, random);
  const played = guide.notes.map((note) => ({ ...note, atSec: note.atSec + plan.noteSpreadSec * random.gaussian() }));
  addNotes(samples, played, 0.15, plan.truth, 0.02);
  for (const clap of plan.clapsSec) addClap(samples, plan.truth.leadSec + clap * speed, 0.3, random);
  if (plan.bleed > 0) addGuide(samples, guide, plan.bleed, plan.truth);
  return soundOf(samples, RATE_HZ);
}
