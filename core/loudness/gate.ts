/**
 * What the two gated figures are made of: lists of mean K-weighted powers (channels summed with their weights), one per
 * 100 ms. Powers, not LUFS, because the means are of powers.
 */

/** Added to 10 log10 of a K-weighted power to give LUFS. Source: ITU-R BS.1770-5, Annex 1, equation (2). */
const OFFSET_DB = -0.691;

/** Loudness in LUFS of a K-weighted power; 0 gives -Infinity. */
export function powerToLufs(power: number): number {
  return OFFSET_DB + 10 * Math.log10(power);
}

function lufsToPower(lufs: number): number {
  return 10 ** ((lufs - OFFSET_DB) / 10);
}

const ABSOLUTE_GATE_POWER = lufsToPower(-70);

/** A list of numbers that grows; one Float64 each, and never a copy a number. */
export class PowerList {
  #values = new Float64Array(1024);
  #length = 0;

  get length(): number {
    return this.#length;
  }

  push(value: number): void {
    if (this.#length === this.#values.length) {
      const wider = new Float64Array(2 * this.#length);
      wider.set(this.#values);
      this.#values = wider;
    }
    this.#values[this.#length++] = value;
  }

  /** What was pushed from the index `from` on; a view, valid until the next push. */
  view(from = 0): Float64Array {
    return this.#values.subarray(Math.min(from, this.#length), this.#length);
  }

  clear(): void {
    this.#length = 0;
  }
}

/**
 * Gated integrated loudness.
 * Source: ITU-R BS.1770-5, Annex 1: 400 ms blocks above -70 LUFS, then those above the mean of these less 10 LU.
 * In: powers of the complete 400 ms blocks, one every 100 ms. Only reads.
 * Out: LUFS; -Infinity when no block passes the gate.
 */
export function integratedLufs(blockPowers: Float64Array): number {
  let sum = 0;
  let count = 0;
  for (let k = 0; k < blockPowers.length; k++) {
    const power = blockPowers[k]!;
    if (power > ABSOLUTE_GATE_POWER) {
      sum += power;
      count++;
    }
  }
  if (count === 0) return Number.NEGATIVE_INFINITY;
  const gate = Math.max(ABSOLUTE_GATE_POWER, (sum / count) * 0.1);
  sum = 0;
  count = 0;
  for (let k = 0; k < blockPowers.length; k++) {
    const power = blockPowers[k]!;
    if (power > gate) {
      sum += power;
      count++;
    }
  }
  return powerToLufs(sum / count);
}

/**
 * Loudness range.
 * Source: EBU Tech 3342 (2023): short-term values at 10 Hz, at least -70 LUFS, at least their mean power less 20 LU; the
 * 95th less the 10th percentile, the percentile p of n values being number round((n - 1) p / 100 + 1) in rising order.
 * In: powers of the complete 3 s windows, one every 100 ms. Only reads; sorts a copy.
 * Out: LU, 0 when nothing passes the gates. The figure is unsteady in the first 60 s of a piece.
 */
export function loudnessRangeLu(shortTermPowers: Float64Array): number {
  const heard = shortTermPowers.filter((power) => power >= ABSOLUTE_GATE_POWER);
  if (heard.length === 0) return 0;
  let sum = 0;
  for (let k = 0; k < heard.length; k++) sum += heard[k]!;
  const gate = (sum / heard.length) * 0.01;
  const kept = heard.filter((power) => power >= gate).sort();
  const percentile = (percent: number): number => powerToLufs(kept[Math.round(((kept.length - 1) * percent) / 100)]!);
  return percentile(95) - percentile(10);
}
