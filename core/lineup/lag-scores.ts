import { type BleedKernel, bleedKernel } from './bleed/kernel/bleed-kernel.ts';

/** What a step of a path says. */
export interface StepSaid {
  /** One number a lag: counts `gain` times, less `against`, and `least` at the least. */
  readonly row: Float64Array;
  readonly gain: number;
  readonly against: number;
  readonly least: number;
}

/**
 * Scores of the likeliest ways to each lag, step by step (Viterbi 1967, IEEE Trans. IT 13(2)).
 *
 * In WebAssembly where its SIMD is to be had, else in plain TypeScript; both give the same to the last bit. One alone is to be at work at a time.
 * Memory: 4 bytes a lag of each step.
 */
export interface LagScores {
  /** The first step. */
  begin(said: StepSaid): void;
  /** One step more: costs of straying by 0, 1, ... lags, and of jumping to any lag. */
  goOn(said: StepSaid, costs: Float64Array, jumpCost: number): void;
  /** The lag at which the best way ends, the lowest of several. */
  best(): number;
  /** From which lag of the step before the best way to a lag of a step came; steps from 1 on. */
  cameFrom(step: number, lag: number): number;
}

/** width: lags of a row; steps: how many there are to be at most. kernel: null for plain TypeScript. */
export function lagScores(width: number, steps: number, kernel: BleedKernel | null = bleedKernel()): LagScores {
  return kernel === null ? new PlainScores(width) : new KernelScores(kernel, width, steps);
}

class KernelScores implements LagScores {
  readonly #kernel: BleedKernel;
  readonly #width: number;
  readonly #steps: number;
  /** Scores before and after a step, one behind the other. */
  readonly #scores: number;
  readonly #row: number;
  readonly #came: number;
  #done = 0;

  constructor(kernel: BleedKernel, width: number, steps: number) {
    this.#kernel = kernel;
    this.#width = width;
    this.#steps = steps;
    this.#scores = kernel.room('scores', 2 * 8 * width);
    this.#row = kernel.room('row', 8 * width);
    this.#came = kernel.room('came', 4 * width * steps);
  }

  begin(said: StepSaid): void {
    this.#done = 0;
    this.#kernel.doubles(this.#scores, 2 * this.#width).fill(0);
    this.#step(said, 0, -1, 0);
  }

  goOn(said: StepSaid, costs: Float64Array, jumpCost: number): void {
    const room = this.#kernel.room('costs', 8 * costs.length);
    this.#kernel.doubles(room, costs.length).set(costs);
    this.#step(said, room, costs.length - 1, jumpCost);
  }

  #step({ row, gain, against, least }: StepSaid, costs: number, reach: number, jumpCost: number): void {
    const done = this.#done++;
    if (done >= this.#steps) throw new RangeError(`steps is ${done + 1}; allowed ${this.#steps}`);
    this.#kernel.doubles(this.#row, this.#width).set(row);
    const [from, to] = [this.#scoresAfter(done), this.#scoresAfter(done + 1)];
    const came = this.#came + 4 * this.#width * done;
    this.#kernel.run.goOn(from, to, came, this.#width, costs, reach, jumpCost, this.#row, gain, against, least);
  }

  #scoresAfter(steps: number): number {
    return this.#scores + (steps % 2) * 8 * this.#width;
  }

  best(): number {
    return this.#kernel.run.placeOfHighest(this.#scoresAfter(this.#done), this.#width);
  }

  cameFrom(step: number, lag: number): number {
    return this.#kernel.whole(this.#came + 4 * (this.#width * step + lag), 1)[0]!;
  }
}

class PlainScores implements LagScores {
  #score: Float64Array;
  #next: Float64Array;
  readonly #came: Int32Array[] = [];

  constructor(width: number) {
    this.#score = new Float64Array(width);
    this.#next = new Float64Array(width);
  }

  begin(said: StepSaid): void {
    this.#score.fill(0);
    this.#came.length = 0;
    this.#came.push(new Int32Array(0));
    this.#hear(said);
  }

  goOn(said: StepSaid, costs: Float64Array, jumpCost: number): void {
    const from = new Int32Array(this.#score.length);
    arrive(this.#score, this.#next, from, costs, jumpCost);
    this.#came.push(from);
    [this.#score, this.#next] = [this.#next, this.#score];
    this.#hear(said);
  }

  #hear({ row, gain, against, least }: StepSaid): void {
    for (let lag = 0; lag < row.length; lag++) this.#score[lag]! += Math.max(least, gain * row[lag]! - against);
  }

  best(): number {
    return placeOfHighest(this.#score);
  }

  cameFrom(step: number, lag: number): number {
    return this.#came[step]![lag]!;
  }
}

function placeOfHighest(values: Float64Array): number {
  let best = 0;
  for (let n = 1; n < values.length; n++) if (values[n]! > values[best]!) best = n;
  return best;
}

/** Best score of arriving at each lag: by straying a little, or by a jump. */
function arrive(
  score: Float64Array,
  next: Float64Array,
  from: Int32Array,
  costs: Float64Array,
  jumpCost: number,
): void {
  const width = score.length;
  const reach = costs.length - 1;
  const best = placeOfHighest(score);
  const jumped = score[best]! - jumpCost;
  for (let lag = 0; lag < width; lag++) {
    let most = jumped;
    let came = best;
    const to = Math.min(width - 1, lag + reach);
    for (let other = Math.max(0, lag - reach); other <= to; other++) {
      const value = score[other]! - costs[Math.abs(lag - other)]!;
      if (value > most) {
        most = value;
        came = other;
      }
    }
    next[lag] = most;
    from[lag] = came;
  }
}
