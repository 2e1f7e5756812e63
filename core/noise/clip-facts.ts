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
const CROWDED = 1.6;
/** Bins to each side over which cut tops are scattered, by coding or by noise that came after the cut. */
const REACHES = [2, 6];
/** Lowest bin judged: there must be room below. */
const FIRST_BIN = 26;
/** Share of the cut samples that may lie above: lossy coding overshoots, and a clap may be louder than it all. */
const MOST_ABOVE = 0.2;
/** Fewest cut samples, for each bin of reach. */
const FEWEST_SAMPLES = 40;

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
    let best: ClipFacts | null = null;
    let bestRatio = CROWDED;
    for (const reach of REACHES) {
      for (let bin = FIRST_BIN; bin < BINS; bin++) {
        const ratio = this.#crowding(bin, reach);
        if (ratio <= bestRatio) continue;
        bestRatio = ratio;
        best = this.#facts(bin, reach);
      }
    }
    return best;
  }

  /** How many times more samples lie within `reach` bins than the magnitudes below let expect; 0 when it is no cut. */
  #crowding(bin: number, reach: number): number {
    const counts = this.#counts;
    const crowd = sumOf(counts, bin - reach, bin + reach);
    if (crowd < FEWEST_SAMPLES * reach || counts[bin]! < counts[bin - 1]! || counts[bin]! < counts[bin + 1]!) return 0;
    if (sumOf(counts, bin + reach + 3, BINS) > MOST_ABOVE * crowd) return 0;
    const below = Array.from(counts.subarray(bin - reach - 18, bin - reach - 3)).sort((x, y) => x - y)[7]!;
    return crowd / ((2 * reach + 1) * (below + 1));
  }

  #facts(bin: number, reach: number): ClipFacts {
    let weighed = 0;
    for (let b = bin - reach; b <= bin + reach; b++) weighed += (this.#counts[b] ?? 0) * (b + 0.5);
    const crowd = sumOf(this.#counts, bin - reach, bin + reach);
    const level = LOWEST_LEVEL + (weighed / crowd) * BIN_WIDTH;
    return { level, threshold: 0.98 * level, samples: crowd + sumOf(this.#counts, bin + reach + 1, BINS) };
  }
}

function sumOf(counts: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let b = from; b <= Math.min(to, BINS); b++) sum += counts[b]!;
  return sum;
}
