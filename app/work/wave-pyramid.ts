const FULL_SCALE = 32767;

/**
 * Lowest and highest sample of stretches of several lengths, from which a waveform is drawn at any zoom. Gathers block by
 * block; memory: two numbers per stretch of the shortest length.
 */
export class WavePyramid {
  readonly #levelFrames: readonly number[];
  readonly #pairs: number[] = [];
  #low = 0;
  #high = 0;
  #frames = 0;

  /** levelFrames: frames a pair of each level stands for, rising, each a multiple of the one before. */
  constructor(levelFrames: readonly number[]) {
    levelFrames.forEach((frames, index) => {
      const before = index === 0 ? 1 : levelFrames[index - 1]!;
      if (frames % before !== 0) throw new RangeError(`levelFrames ${frames} is no multiple of ${before}`);
    });
    this.#levelFrames = levelFrames;
  }

  add(samples: Float32Array): void {
    const edge = this.#levelFrames[0]!;
    let from = 0;
    while (from < samples.length) {
      const to = Math.min(samples.length, from + edge - this.#frames);
      let low = this.#frames === 0 ? Number.POSITIVE_INFINITY : this.#low;
      let high = this.#frames === 0 ? Number.NEGATIVE_INFINITY : this.#high;
      for (let n = from; n < to; n++) {
        const value = samples[n]!;
        if (value < low) low = value;
        if (value > high) high = value;
      }
      this.#low = low;
      this.#high = high;
      this.#frames += to - from;
      if (this.#frames === edge) this.#end();
      from = to;
    }
  }

  #end(): void {
    this.#pairs.push(scaled(this.#low), scaled(this.#high));
    this.#frames = 0;
  }

  /** One array a level: lowest, highest, lowest, highest, ...; the last pair may stand for fewer frames. */
  result(): Int16Array<ArrayBuffer>[] {
    if (this.#frames > 0) this.#end();
    const levels = [Int16Array.from(this.#pairs)];
    for (let level = 1; level < this.#levelFrames.length; level++) {
      levels.push(coarser(levels[level - 1]!, this.#levelFrames[level]! / this.#levelFrames[level - 1]!));
    }
    return levels;
  }
}

function coarser(pairs: Int16Array, times: number): Int16Array<ArrayBuffer> {
  const count = Math.ceil(pairs.length / 2 / times);
  const made = new Int16Array(2 * count);
  for (let at = 0; at < count; at++) {
    let low = FULL_SCALE;
    let high = -FULL_SCALE;
    const end = Math.min(pairs.length, 2 * times * (at + 1));
    for (let n = 2 * times * at; n < end; n += 2) {
      low = Math.min(low, pairs[n]!);
      high = Math.max(high, pairs[n + 1]!);
    }
    made[2 * at] = low;
    made[2 * at + 1] = high;
  }
  return made;
}

function scaled(value: number): number {
  return Math.round(Math.max(-1, Math.min(1, value)) * FULL_SCALE);
}
