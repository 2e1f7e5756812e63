import type { Sound } from '../signal/sound.ts';
import { SlowStream } from './break-pulses.ts';
import { riseRow } from './rise-row.ts';
import { FLOOR_SHARES, HOP_SEC, MOST_FRAMES, RATE_HZ, type RiseRow } from './rise-shape.ts';
import { SlowCopy } from './slow-copy.ts';

/** A moment near which a note begins, s, and how far before and after it is looked for. */
export interface RoughBeginning {
  readonly atSec: number;
  readonly reachSec: number;
}

/** When a note begins, s, and how much begins then, beside the usual note of its sound; any unit. */
export interface FineBeginning {
  readonly atSec: number;
  readonly height: number;
}

/** Ways to hear a beginning, each over each of FLOOR_SHARES: short windows tell the time better, long ones tell neighbouring notes apart. */
const WINDOWS = [256, 512] as const;
/** Their numbers: window by window those over each floor. */
export const WAYS: readonly number[] = WINDOWS.flatMap((_, row) =>
  FLOOR_SHARES.map((_, floor) => row * FLOOR_SHARES.length + floor),
);
/** A beginning is where what rises passes this share of its greatest: later on an attack is the instrument's own. */
const PASSED = 0.2;
/** What is heard beyond the reach, so that a rise in its last moment is whole, s. */
const MARGIN_SEC = 0.04;
/** Where a note is as loud as it usually gets, s after it began. */
const SOUNDING_SEC = 0.1;
const MOST_REACH_SEC = 0.12;
/** Slow samples that are made at a time. */
const AT_ONCE = 1024;

/**
 * Tells when notes begin, near moments that are known to a tenth of a second.
 *
 * What begins is the sum over a spectrum's bins of how far its logarithm rises over the loudest of three bins half a window before, so that a
 * vibrato is none (S. Böck and G. Widmer, Maximum filter vibrato suppression for onset detection, DAFx 2013), every 6 ms. Of sampled
 * notes of 13 instruments in a room, 18 to 40 dB over the noise, beginnings scatter about their own middle by 1 to 13 ms (1.48 times the median
 * of how far they lie from it). Reads 0.3 s of the sound a moment.
 */
export class BeginningFinder {
  readonly #stream: SlowStream;
  readonly #rate: number;
  readonly #rows: readonly RiseRow[];
  readonly #heard: Float64Array;
  /** Numbers of the slow samples that lie in #heard. */
  #held = { from: 0, to: 0 };
  /** Magnitude of a usual note's loudest partial, for each of WINDOWS that was asked for. */
  readonly #usual: (number | undefined)[] = [];

  constructor(sound: Sound) {
    const slow = new SlowCopy(sound.rateHz, RATE_HZ);
    this.#rate = slow.rateHz;
    this.#stream = new SlowStream(sound, slow, AT_ONCE);
    this.#rows = WINDOWS.map((size) => riseRow(size, this.#rate));
    this.#heard = new Float64Array(Math.ceil(MOST_FRAMES * HOP_SEC * this.#rate) + 2 * WINDOWS.at(-1)!);
  }

  /** For each moment, the beginning by each of some ways to hear it. How loud a usual note is, is learnt from the first call's moments. */
  find(moments: readonly RoughBeginning[], ways: readonly number[]): FineBeginning[][] {
    const asked = ways.map((way) => ({ row: Math.floor(way / FLOOR_SHARES.length), floor: way % FLOOR_SHARES.length }));
    const rows = [...new Set(asked.map(({ row }) => row))];
    for (const row of rows) this.#usual[row] ??= this.#learn(moments, row);
    return moments.map(({ atSec, reachSec }) => {
      const reach = Math.min(reachSec, MOST_REACH_SEC);
      const { fromSec, frames } = this.#hear(atSec - reach - MARGIN_SEC, 2 * (reach + MARGIN_SEC), rows);
      return asked.map(({ row, floor }) => {
        const { gap } = this.#rows[row]!;
        return beginningIn(this.#rows[row]!.rises(floor), gap, frames, fromSec);
      });
    });
  }

  #learn(moments: readonly RoughBeginning[], row: number): number {
    const peaks: number[] = [];
    const every = Math.max(1, Math.floor(moments.length / 200));
    for (let n = 0; n < moments.length; n += every) {
      this.#hear(moments[n]!.atSec + SOUNDING_SEC, HOP_SEC, [row]);
      peaks.push(this.#rows[row]!.loudest());
    }
    peaks.sort((a, b) => a - b);
    return Math.max(1e-9, peaks[Math.floor(0.6 * peaks.length)] ?? 0);
  }

  /** Hears so long a stretch; gives when its first frame is centred, s, and how many there are. */
  #hear(fromSec: number, lengthSec: number, rows: readonly number[]): { fromSec: number; frames: number } {
    const side = WINDOWS.at(-1)! / 2;
    const first = Math.round(fromSec * this.#rate);
    const frames = Math.floor(lengthSec / HOP_SEC) + 1;
    const heard = this.#stretch(first - side, Math.ceil(frames * HOP_SEC * this.#rate) + 2 * side);
    for (const row of rows) this.#rows[row]!.hear(heard, side, frames, this.#usual[row] ?? 1);
    return { fromSec: first / this.#rate, frames };
  }

  /** Slow samples from a number on. What the last stretch shares with this one is not read again. */
  #stretch(from: number, length: number): Float64Array {
    const heard = this.#heard.subarray(0, length);
    const { from: oldFrom, to: oldTo } = this.#held;
    const isShared = from >= oldFrom && from < oldTo && from + length >= oldTo;
    if (isShared) this.#heard.copyWithin(0, from - oldFrom, oldTo - oldFrom);
    else this.#stream.seek(from);
    this.#stream.read(heard.subarray(isShared ? oldTo - from : 0));
    this.#held = { from, to: from + length };
    return heard;
  }
}

/** Of use within one asking only. */
const sorted = new Float64Array(MOST_FRAMES);

/** The beginning in what a row has heard, over one floor. fromSec: when its first frame is centred. */
function beginningIn(rises: Float64Array, gap: number, frames: number, fromSec: number): FineBeginning {
  const margin = Math.round(MARGIN_SEC / HOP_SEC);
  const late = gap >> 1;
  const to = Math.min(frames, frames - margin + late);
  let best = margin + late;
  for (let n = best; n < to; n++) if (rises[n]! > rises[best]!) best = n;
  sorted.fill(Number.POSITIVE_INFINITY);
  for (let n = gap; n < frames; n++) sorted[n - gap] = rises[n]!;
  const base = sorted.sort()[Math.floor(0.2 * (frames - gap))]!;
  const height = rises[best]! - base;
  const passed = base + PASSED * height;
  let at = best;
  while (at > gap && rises[at - 1]! > passed) at--;
  const step = rises[at]! - rises[at - 1]!;
  const exact = at > gap && step > 0 ? at - (rises[at]! - passed) / step : at;
  // A rise lies between the two frames that are compared.
  return { atSec: fromSec + (exact - 0.5 * gap) * HOP_SEC, height };
}
