import { Random } from '../core/signal/random.ts';
import { filterInPlace, highPass, lowPass, peak, type Section } from './filter.ts';
import type { InstrumentName, PlayedNote } from './score.ts';

/** Partials stop below this frequency, so that nothing folds back at 44.1 kHz either. */
export const TOP_PARTIAL_HZ = 15500;

/** How one instrument sounds. Two families share it: a flue pipe that is blown and a string that is bowed. */
interface Recipe {
  readonly family: 'blown' | 'bowed';
  readonly attackSec: number;
  readonly releaseSec: number;
  /** The gap tonguing or a bow change leaves before the next note. */
  readonly gapSec: number;
  readonly vibratoHz: number;
  readonly vibratoCents: number;
  /** Depth of the loudness side of the vibrato, linear. */
  readonly vibratoSwell: number;
  /** Breath or bow noise beside the tone, linear. */
  readonly breathRatio: number;
  /** What the wood adds, after the source. */
  readonly body: readonly Section[];
  readonly levelRatio: number;
}

const RATE_HZ = 48000;

const RECIPES: Record<InstrumentName, Recipe> = {
  descantRecorder: {
    family: 'blown',
    attackSec: 0.018,
    releaseSec: 0.035,
    gapSec: 0.045,
    vibratoHz: 4.8,
    vibratoCents: 5,
    vibratoSwell: 0.07,
    breathRatio: 0.03,
    body: [lowPass(9000, RATE_HZ)],
    levelRatio: 0.8,
  },
  tenorRecorder: {
    family: 'blown',
    attackSec: 0.026,
    releaseSec: 0.045,
    gapSec: 0.05,
    vibratoHz: 4.5,
    vibratoCents: 6,
    vibratoSwell: 0.08,
    breathRatio: 0.036,
    body: [lowPass(7000, RATE_HZ)],
    levelRatio: 1,
  },
  trebleViol: {
    family: 'bowed',
    attackSec: 0.045,
    releaseSec: 0.08,
    gapSec: 0.03,
    vibratoHz: 5.3,
    vibratoCents: 8,
    vibratoSwell: 0.03,
    breathRatio: 0.03,
    body: [
      peak(310, 5, 2.5, RATE_HZ),
      peak(560, 6, 2.2, RATE_HZ),
      peak(1150, 4, 2, RATE_HZ),
      peak(2600, 4, 1.4, RATE_HZ),
      lowPass(6500, RATE_HZ),
    ],
    levelRatio: 0.9,
  },
  bassViol: {
    family: 'bowed',
    attackSec: 0.055,
    releaseSec: 0.12,
    gapSec: 0.03,
    vibratoHz: 4.9,
    vibratoCents: 6,
    vibratoSwell: 0.03,
    breathRatio: 0.026,
    body: [
      peak(150, 4, 2, RATE_HZ),
      peak(260, 5, 2.2, RATE_HZ),
      peak(520, 4, 2, RATE_HZ),
      peak(1300, 3, 1.5, RATE_HZ),
      lowPass(4800, RATE_HZ),
    ],
    levelRatio: 1.1,
  },
};

/** Strength of partial n of a source, linear: a flue pipe is nearly a sine with weak even partials, a bowed string a
 * saw tooth with the dips of a bow a ninth from the bridge. */
function partialRatio(recipe: Recipe, n: number, pitchHz: number): number {
  if (recipe.family === 'blown') {
    const evenRatio = n % 2 === 0 ? 0.4 : 1;
    return (evenRatio * 0.36 ** (n - 1) * (1 + 0.5 * (n === 3 ? 1 : 0)) + 0.004 / n) * (pitchHz > 900 ? 0.9 : 1);
  }
  return (1.25 * Math.abs(Math.sin((Math.PI * n) / 9)) + 0.08) / n ** 1.05;
}

/** A slow wandering value, standard deviation about 1, that no two notes share. */
class Wander {
  readonly #random: Random;
  readonly #keep: number;
  #value = 0;

  constructor(random: Random, cutHz: number) {
    this.#random = random;
    this.#keep = Math.exp((-2 * Math.PI * cutHz) / RATE_HZ);
    this.#value = random.gaussian();
  }

  next(): number {
    this.#value = this.#keep * this.#value + Math.sqrt(1 - this.#keep * this.#keep) * this.#random.gaussian();
    return this.#value;
  }
}

/** A note longer than this, the last one, dies away while it is held. */
const LONG_NOTE_SEC = 2;

/** Envelope of a note at `t` seconds, 0 to 1: a smooth attack, a slight swell, a smooth release. */
function envelope(recipe: Recipe, t: number, soundingSec: number): number {
  const rise = t < recipe.attackSec ? Math.sin((0.5 * Math.PI * t) / recipe.attackSec) ** 2 : 1;
  const left = t - soundingSec;
  const fall = left <= 0 ? 1 : Math.exp((-4.6 * left) / recipe.releaseSec);
  const gone = Math.min(1, t / Math.max(0.25, soundingSec));
  const swell = 0.86 + 0.14 * Math.sin(Math.PI * gone);
  const dying = soundingSec > LONG_NOTE_SEC ? 1 - 0.75 * gone ** 3 : 1;
  return rise * fall * swell * dying;
}

function addNote(target: Float64Array, recipe: Recipe, note: PlayedNote, random: Random): void {
  const pitchHz = 440 * 2 ** ((note.midi - 69 + note.cents / 100) / 12);
  const highestHz = pitchHz * 1.03;
  const partials = Math.max(1, Math.min(90, Math.floor(TOP_PARTIAL_HZ / highestHz)));
  const ratios = Float64Array.from({ length: partials + 1 }, (_, n) =>
    // The uppermost fade out, so that the row has no edge.
    n === 0 ? 0 : partialRatio(recipe, n, pitchHz) * Math.min(1, 3 * (1 - (n - 1) / partials)),
  );
  const soundingSec = Math.max(0.08, note.lengthSec - recipe.gapSec);
  const from = Math.round(note.startSec * RATE_HZ);
  const length = Math.ceil((soundingSec + 1.4 * recipe.releaseSec) * RATE_HZ);
  const pitchWander = new Wander(random, 3);
  const levelWander = new Wander(random, 8);
  const breath = new BreathNoise(random, pitchHz);
  const vibratoHz = recipe.vibratoHz * (1 + 0.04 * random.gaussian());
  const blown = recipe.family === 'blown';
  let phase = random.uniform();
  let vibratoPhase = 0;
  for (let i = 0; i < length && from + i < target.length; i++) {
    const t = i / RATE_HZ;
    // Vibrato comes in late, and only a note that has the time for it gets any.
    const vibratoIn = Math.max(0, Math.min(1, (t - 0.3) / 0.5));
    const vibrato = Math.sin(2 * Math.PI * vibratoPhase) * vibratoIn;
    vibratoPhase += vibratoHz / RATE_HZ;
    const scoop = (blown ? -14 : 5) * Math.exp(-t / 0.018);
    const cents = recipe.vibratoCents * vibrato + 1.6 * pitchWander.next() + scoop;
    phase += (pitchHz * (1 + cents * 0.00057762)) / RATE_HZ;
    phase -= Math.floor(phase);
    const twist = 2 * Math.cos(2 * Math.PI * phase);
    let previous = 0;
    let current = Math.sin(2 * Math.PI * phase);
    const bite = blown ? 1 + 1.2 * Math.exp(-t / 0.015) : 1;
    let tone = ratios[1]! * current;
    for (let n = 2; n <= partials; n++) {
      const next = twist * current - previous;
      previous = current;
      current = next;
      tone += ratios[n]! * bite * current;
    }
    const loud = envelope(recipe, t, soundingSec) * note.loudnessRatio;
    const noise = breath.next(blown ? 1 : 0.6 + 0.8 * Math.abs(phase - 0.5));
    const attackNoise = 1 + 7 * Math.exp(-t / (blown ? 0.018 : 0.035));
    const level = loud * (1 + recipe.vibratoSwell * vibrato + 0.025 * levelWander.next());
    target[from + i]! += level * (tone + recipe.breathRatio * attackNoise * noise);
  }
}

/** Noise of breath or bow: broad, with a hump around the note that the pipe or string itself lends it. */
class BreathNoise {
  readonly #random: Random;
  readonly #cosine: number;
  readonly #radius: number;
  readonly #gain: number;
  #y1 = 0;
  #y2 = 0;
  #low = 0;

  constructor(random: Random, pitchHz: number) {
    this.#random = random;
    this.#radius = Math.exp((-Math.PI * Math.max(120, 0.25 * pitchHz)) / RATE_HZ);
    this.#cosine = 2 * this.#radius * Math.cos((2 * Math.PI * pitchHz) / RATE_HZ);
    this.#gain = Math.sqrt(1 - this.#radius * this.#radius);
  }

  next(strength: number): number {
    const white = this.#random.gaussian();
    const y = this.#gain * white + this.#cosine * this.#y1 - this.#radius * this.#radius * this.#y2;
    this.#y2 = this.#y1;
    this.#y1 = y;
    this.#low += 0.45 * (white - this.#low);
    return strength * (0.5 * y + 0.45 * this.#low);
  }
}

/**
 * A part played dry, on the session's clock, at 48 kHz: mono, peak below about 1.
 * Additive partials under TOP_PARTIAL_HZ, breath or bow noise, late vibrato, then the body of the instrument.
 */
export function play(
  instrument: InstrumentName,
  notes: readonly PlayedNote[],
  lengthFrames: number,
  seed: number,
): Float64Array {
  const recipe = RECIPES[instrument];
  const random = new Random(seed);
  const sound = new Float64Array(lengthFrames);
  for (const note of notes) addNote(sound, recipe, note, random);
  for (const section of [...recipe.body, highPass(55, RATE_HZ)]) filterInPlace(sound, section);
  const gain = 0.45 * recipe.levelRatio;
  for (let i = 0; i < sound.length; i++) sound[i]! *= gain;
  return sound;
}
