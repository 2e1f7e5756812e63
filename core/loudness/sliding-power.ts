/** Steps of 10 ms in one step of 100 ms. */
export const STEPS_PER_TENTH = 10;
const MOMENTARY_TENTHS = 4;
const SHORT_TERM_TENTHS = 30;
const RING_STEPS = SHORT_TERM_TENTHS * STEPS_PER_TENTH;

/**
 * Mean power in windows of 400 ms and 3 s that move on by 10 ms.
 *
 * Every sum is made anew from at most 40 numbers, so nothing drifts however long it runs, and after a loud passage a
 * silence is exactly silent. Edges lie at the frames nearest to whole multiples of 10 ms. What comes before the first
 * frame counts as silence. Memory 310 numbers.
 */
export class SlidingPower {
  readonly #rateHz: number;
  readonly #steps = new Float64Array(STEPS_PER_TENTH);
  readonly #tenths = new Float64Array(RING_STEPS);
  #count = 0;

  constructor(rateHz: number) {
    this.#rateHz = rateHz;
  }

  /** Whole steps of 10 ms taken so far. */
  get steps(): number {
    return this.#count;
  }

  /** The frame at which the step that is now being filled ends. */
  get nextEdgeFrame(): number {
    return this.#edge(this.#count + 1);
  }

  #edge(step: number): number {
    return Math.round((step * this.#rateHz) / 100);
  }

  /** Takes the energy (sum of weighted squares) of the next 10 ms. */
  push(energy: number): void {
    this.#steps[this.#count % STEPS_PER_TENTH] = energy;
    let tenth = 0;
    for (let k = 0; k < STEPS_PER_TENTH; k++) tenth += this.#steps[k]!;
    this.#tenths[this.#count % RING_STEPS] = tenth;
    this.#count++;
  }

  /** Mean power of the last 400 ms. */
  get momentary(): number {
    return this.#mean(MOMENTARY_TENTHS);
  }

  /** Mean power of the last 3 s. */
  get shortTerm(): number {
    return this.#mean(SHORT_TERM_TENTHS);
  }

  /** Whether 400 ms have been heard in full. */
  get momentaryIsWhole(): boolean {
    return this.#count >= MOMENTARY_TENTHS * STEPS_PER_TENTH;
  }

  /** Whether 3 s have been heard in full. */
  get shortTermIsWhole(): boolean {
    return this.#count >= SHORT_TERM_TENTHS * STEPS_PER_TENTH;
  }

  #mean(tenths: number): number {
    let energy = 0;
    let index = (this.#count + RING_STEPS - 1) % RING_STEPS;
    for (let k = 0; k < tenths; k++) {
      energy += this.#tenths[index]!;
      index -= STEPS_PER_TENTH;
      if (index < 0) index += RING_STEPS;
    }
    return energy / (this.#edge(this.#count) - this.#edge(this.#count - tenths * STEPS_PER_TENTH));
  }

  /** Back to the state of a new one. */
  reset(): void {
    this.#steps.fill(0);
    this.#tenths.fill(0);
    this.#count = 0;
  }
}
