/** A cut top is flat: so many samples in a row, at the least. */
const CUT_RUN = 2;
/** Cut tops nearer than this are one spot, s. */
const SPOT_GAP_SEC = 0.25;
/** More spots than these are no news; the nearest are then joined. */
const MOST_SPOTS = 500;

/** A stretch, seconds. */
export interface CutSpot {
  readonly fromSec: number;
  readonly toSec: number;
}

/** Finds where the tops of waves were cut off: runs of samples at or above a magnitude, those close together as one. Block by block. */
export class CutSpots {
  /** Frames from, to, from, to, ... */
  readonly #runs: number[] = [];
  readonly #threshold: number;
  #frame = 0;
  #run = 0;

  /** threshold: magnitude from which on a sample counts as cut off, full scale 1. */
  constructor(threshold: number) {
    this.#threshold = threshold;
  }

  add(samples: Float32Array): void {
    const threshold = this.#threshold;
    for (let n = 0; n < samples.length; n++) {
      const value = samples[n]!;
      if (value < threshold && value > -threshold) this.#run = 0;
      else this.#hit(this.#frame + n);
    }
    this.#frame += samples.length;
  }

  /** Takes so many samples that all lie below the threshold. */
  pass(count: number): void {
    if (count === 0) return;
    this.#run = 0;
    this.#frame += count;
  }

  #hit(frame: number): void {
    this.#run++;
    if (this.#run < CUT_RUN) return;
    if (this.#run > CUT_RUN) this.#runs[this.#runs.length - 1] = frame + 1;
    else this.#runs.push(frame + 1 - CUT_RUN, frame + 1);
  }

  result(rateHz: number): CutSpot[] {
    let gapSec = SPOT_GAP_SEC;
    for (;;) {
      const spots = joined(this.#runs, rateHz, gapSec);
      if (spots.length <= MOST_SPOTS) return spots;
      gapSec *= 2;
    }
  }
}

function joined(runs: readonly number[], rateHz: number, gapSec: number): CutSpot[] {
  const spots: { fromSec: number; toSec: number }[] = [];
  for (let n = 0; n < runs.length; n += 2) {
    const fromSec = runs[n]! / rateHz;
    const toSec = runs[n + 1]! / rateHz;
    const last = spots.at(-1);
    if (last !== undefined && fromSec - last.toSec < gapSec) last.toSec = toSec;
    else spots.push({ fromSec, toSec });
  }
  return spots;
}
