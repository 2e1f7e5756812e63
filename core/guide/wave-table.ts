/** Frames of a table; with cubic reading its own error stays below -100 dB for harmonics up to a hundredth of it. */
const TABLE_FRAMES = 4096;
/** Harmonics beyond this are never needed: the lowest note of a mock-up is some 30 Hz, and what lies above 10 kHz is dull. */
const MOST_HARMONICS = 320;
/** Highest partial, as a share of the rate: nothing lies where it could fold back into hearing. */
const HIGHEST_SHARE = 0.45;

/** One period of a tone, with three frames of its beginning behind its end for cubic reading. */
export type WaveTable = Float32Array;

/**
 * One period with as many harmonics as fit below 0.45 of the rate at a pitch. Tables are shared by pitches whose count of
 * harmonics is the same to a quarter of an octave, so that a part needs a handful.
 * levels: linear amplitude of harmonic n at index n - 1. Phases are fixed and spread, which keeps the peaks low.
 */
export class WaveTables {
  readonly #levels: (harmonic: number) => number;
  readonly #rateHz: number;
  readonly #made = new Map<number, WaveTable>();

  constructor(levels: (harmonic: number) => number, rateHz: number) {
    this.#levels = levels;
    this.#rateHz = rateHz;
  }

  at(hz: number): WaveTable {
    const fit = Math.min(MOST_HARMONICS, Math.max(1, Math.floor((HIGHEST_SHARE * this.#rateHz) / hz)));
    const count = Math.max(1, Math.min(fit, Math.floor(2 ** (Math.floor(4 * Math.log2(fit)) / 4))));
    const known = this.#made.get(count);
    if (known !== undefined) return known;
    const made = makeTable(this.#levels, count);
    this.#made.set(count, made);
    return made;
  }
}

function makeTable(levels: (harmonic: number) => number, count: number): WaveTable {
  const table = new Float64Array(TABLE_FRAMES);
  const sine = Float64Array.from({ length: TABLE_FRAMES }, (_, n) => Math.sin((2 * Math.PI * n) / TABLE_FRAMES));
  let energy = 0;
  for (let harmonic = 1; harmonic <= count; harmonic++) {
    const level = levels(harmonic);
    if (Math.abs(level) < 1e-5) continue;
    energy += (level * level) / 2;
    // Quadratic phases (Schroeder 1970) spread the peaks of a harmonic tone.
    const phase = Math.round(((harmonic * harmonic) / (2 * count)) * TABLE_FRAMES);
    for (let n = 0; n < TABLE_FRAMES; n++) table[n]! += level * sine[(harmonic * n + phase) % TABLE_FRAMES]!;
  }
  const scale = energy > 0 ? 1 / Math.sqrt(energy) : 0;
  return Float32Array.from(
    { length: TABLE_FRAMES + 3 },
    (_, n) => scale * table[(n + TABLE_FRAMES - 1) % TABLE_FRAMES]!,
  );
}

/** Where the reading of two tables stands, and how it goes on each frame. */
export interface TableReading {
  /** 0 to 1. */
  phase: number;
  /** Of a period. */
  readonly increment: number;
  /** Of the first table, 0 to 1; the second has the rest. */
  share: number;
  shareStep: number;
  /** Linear. */
  amplitude: number;
  amplitudeStep: number;
}

/** Adds two tables, mixed by their shares, times `gain`, to the frames from `from` to before `to`; the reading goes on by as many. */
export function addTables(
  first: WaveTable,
  second: WaveTable,
  reading: TableReading,
  target: Float32Array,
  from: number,
  to: number,
  gain: number,
): void {
  // In variables of its own: writing the fields of an object for each frame costs more than the reading.
  const { increment, shareStep, amplitudeStep } = reading;
  let { phase, share, amplitude } = reading;
  for (let n = from; n < to; n++) {
    target[n]! += gain * amplitude * (share * readTable(first, phase) + (1 - share) * readTable(second, phase));
    amplitude += amplitudeStep;
    share += shareStep;
    phase += increment;
    if (phase >= 1) phase -= 1;
  }
  reading.phase = phase;
  reading.share = share;
  reading.amplitude = amplitude;
}

/**
 * The value of a table at a phase of 0 to 1, by cubic (Catmull-Rom) interpolation.
 * Frame n of the period lies at index n + 1.
 */
function readTable(table: WaveTable, phase: number): number {
  const at = phase * TABLE_FRAMES;
  const whole = Math.floor(at);
  const part = at - whole;
  const a = table[whole]!;
  const b = table[whole + 1]!;
  const c = table[whole + 2]!;
  const d = table[whole + 3 < table.length ? whole + 3 : 3]!;
  return b + 0.5 * part * (c - a + part * (2 * a - 5 * b + 4 * c - d + part * (3 * (b - c) + d - a)));
}
