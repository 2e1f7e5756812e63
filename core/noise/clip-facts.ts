/** How a take is clipped. */
export interface ClipFacts {
  /** Where the tops were cut, full scale 1. Lossy coding scatters the cut tops around it. */
  readonly level: number;
  /** Samples at or above this magnitude count as cut. */
  readonly threshold: number;
  /** Cut samples found. */
  readonly samples: number;
}

const LOWEST_LEVEL = 0.25;
const BINS = 600;
const BIN_WIDTH = 0.0025;
/** The cut level must hold this many times the samples that magnitudes below it hold, bin for bin. */
const CROWDED = 4;
const FEWEST_SAMPLES = 60;

/**
 * Finds out whether a take is clipped: magnitudes of cut waves crowd at one level, with hardly any above. A wave that is not
 * clipped, yet crowds at its top, does no harm: what is put in place of its tops is what they were.
 * Takes loud samples only; memory: 600 numbers.
 */
export class ClipHistogram {
  readonly #counts = new Float64Array(BINS + 1);

  /** magnitude: of one sample. */
  add(magnitude: number): void {
    if (magnitude < LOWEST_LEVEL) return;
    const bin = ((magnitude - LOWEST_LEVEL) / BIN_WIDTH) | 0;
    this.#counts[Math.min(bin, BINS)]! += 1;
  }

  result(): ClipFacts | null {
    const counts = this.#counts;
    let top = 0;
    for (let b = 1; b < BINS; b++) if (counts[b]! > 0) top = b;
    let peak = -1;
    for (let b = Math.floor(top * 0.6); b <= top; b++) if (peak < 0 || counts[b]! > counts[peak]!) peak = b;
    if (peak < 24) return null;
    let crowd = 0;
    for (let b = peak - 2; b <= peak + 2; b++) crowd += counts[b] ?? 0;
    let above = 0;
    for (let b = peak + 5; b <= BINS; b++) above += counts[b]!;
    const below = Array.from(counts.subarray(peak - 20, peak - 5)).sort((a, b) => a - b)[7]!;
    if (crowd < FEWEST_SAMPLES || crowd < CROWDED * 5 * 0.6 * (below + 1) || above > 0.15 * crowd) return null;
    let weighed = 0;
    for (let b = peak - 2; b <= peak + 2; b++) weighed += (counts[b] ?? 0) * (b + 0.5);
    const level = LOWEST_LEVEL + (weighed / crowd) * BIN_WIDTH;
    return { level, threshold: 0.98 * level, samples: crowd + above };
  }
}
