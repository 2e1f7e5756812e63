import { RealFft } from './fft.ts';
import type { Sound } from './sound.ts';
import { makeWindow } from './window.ts';

/** What part of a sound is looked at, and how finely. */
export interface SpectrogramPlan {
  readonly fromSec: number;
  readonly toSec: number;
  /** Columns of time and rows of frequency. */
  readonly columns: number;
  readonly rows: number;
}

/** Rows lie evenly on a logarithmic scale between these, Hz. */
const LOWEST_HZ = 40;
const HIGHEST_HZ = 20_000;
/** Level that is drawn as nothing, dBFS (a full-scale sine is 0). */
const FLOOR_DBFS = -120;
/** Length of a window, s: long enough to part low notes, short enough to keep attacks sharp. */
const WINDOW_SEC = 0.085;
/** Windows a column that lasts longer than one is averaged over, at the most. */
const MOST_LOOKS = 4;

/**
 * Levels over time and frequency for a picture, through Hann windows of about 85 ms: column after column, `rows` bytes
 * each from low to high; 0 is -120 dBFS or less, 255 is 0 dBFS. A row takes the strongest bin within it, or, where rows lie
 * closer than bins, the level between two bins. Columns longer than a window are the mean of up to four looks.
 * onColumn: called before each column with the share done; may throw to stop.
 */
export function spectrogram(
  sound: Sound,
  plan: SpectrogramPlan,
  onColumn?: (share: number) => void,
): Uint8Array<ArrayBuffer> {
  const { columns, rows, fromSec, toSec } = plan;
  const size = 2 ** Math.max(8, Math.round(Math.log2(WINDOW_SEC * sound.rateHz)));
  const looker = new Looker(sound, size);
  const edges = rowEdges(rows, sound.rateHz / size, size / 2);
  const columnFrames = ((toSec - fromSec) * sound.rateHz) / columns;
  const looks = Math.max(1, Math.min(MOST_LOOKS, Math.round(columnFrames / (size / 2))));
  const picture = new Uint8Array(columns * rows);
  const power = new Float64Array(size / 2 + 1);
  for (let column = 0; column < columns; column++) {
    onColumn?.(column / columns);
    power.fill(0);
    for (let look = 0; look < looks; look++) {
      const centre = fromSec * sound.rateHz + (column + (look + 0.5) / looks) * columnFrames;
      looker.addPower(Math.round(centre - size / 2), power);
    }
    for (let row = 0; row < rows; row++) {
      const level = 10 * Math.log10(rowPower(power, edges[row]!, edges[row + 1]!) / looks + 1e-30);
      picture[column * rows + row] = Math.round(255 * Math.max(0, Math.min(1, 1 - level / FLOOR_DBFS)));
    }
  }
  return picture;
}

/** Edges of the rows, in bins. */
function rowEdges(rows: number, binHz: number, lastBin: number): Float64Array {
  const edges = new Float64Array(rows + 1);
  for (let row = 0; row <= rows; row++) {
    edges[row] = Math.min(lastBin, (LOWEST_HZ * (HIGHEST_HZ / LOWEST_HZ) ** (row / rows)) / binHz);
  }
  return edges;
}

function rowPower(power: Float64Array, from: number, to: number): number {
  const first = Math.ceil(from);
  const last = Math.min(power.length - 1, Math.floor(to));
  if (first >= power.length || from === to) return 0;
  if (last < first) {
    const middle = (from + to) / 2;
    const bin = Math.floor(middle);
    return power[bin]! + (middle - bin) * ((power[bin + 1] ?? 0) - power[bin]!);
  }
  let most = 0;
  for (let bin = first; bin <= last; bin++) most = Math.max(most, power[bin]!);
  return most;
}

class Looker {
  readonly #sound: Sound;
  readonly #fft: RealFft;
  readonly #window: Float64Array;
  readonly #samples: Float32Array;
  readonly #input: Float64Array;
  readonly #re: Float64Array;
  readonly #im: Float64Array;
  readonly #scale: number;

  constructor(sound: Sound, size: number) {
    this.#sound = sound;
    this.#fft = new RealFft(size);
    this.#window = makeWindow('hann', size);
    this.#samples = new Float32Array(size);
    this.#input = new Float64Array(size);
    this.#re = new Float64Array(this.#fft.bins);
    this.#im = new Float64Array(this.#fft.bins);
    // A full-scale sine in the middle of a bin has |X| = size / 4 behind a Hann window.
    this.#scale = (4 / size) ** 2;
  }

  addPower(fromFrame: number, power: Float64Array): void {
    this.#sound.read(fromFrame, this.#samples);
    for (let n = 0; n < this.#input.length; n++) this.#input[n] = this.#samples[n]! * this.#window[n]!;
    this.#fft.forward(this.#input, this.#re, this.#im);
    for (let k = 0; k < power.length; k++) {
      power[k]! += this.#scale * (this.#re[k]! ** 2 + this.#im[k]! ** 2);
    }
  }
}
