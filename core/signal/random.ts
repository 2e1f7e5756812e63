/**
 * Seeded random numbers: xoshiro128** by Blackman and Vigna (public domain reference, 2018), seeded by splitmix32.
 * The same seed gives the same sequence everywhere. Not for secrets.
 */
export class Random {
  #a: number;
  #b: number;
  #c: number;
  #d: number;
  #spare = Number.NaN;

  /** seed: any finite number; its lower 32 bits count. */
  constructor(seed: number) {
    let state = seed >>> 0;
    const next = (): number => {
      state = (state + 0x9e3779b9) >>> 0;
      let z = state;
      z = Math.imul(z ^ (z >>> 16), 0x85ebca6b);
      z = Math.imul(z ^ (z >>> 13), 0xc2b2ae35);
      return (z ^ (z >>> 16)) >>> 0;
    };
    this.#a = next();
    this.#b = next();
    this.#c = next();
    this.#d = next();
  }

  /** A whole number, 0 to 2^32 - 1, uniform. */
  uint32(): number {
    const scrambled = Math.imul(this.#b, 5);
    const result = Math.imul((scrambled << 7) | (scrambled >>> 25), 9) >>> 0;
    const t = this.#b << 9;
    this.#c ^= this.#a;
    this.#d ^= this.#b;
    this.#b ^= this.#c;
    this.#a ^= this.#d;
    this.#c ^= t;
    this.#d = (this.#d << 11) | (this.#d >>> 21);
    return result;
  }

  /** Uniform in [0, 1). */
  uniform(): number {
    return this.uint32() / 4294967296;
  }

  /** Gaussian, mean 0, standard deviation 1 (polar method of Marsaglia). */
  gaussian(): number {
    if (!Number.isNaN(this.#spare)) {
      const spare = this.#spare;
      this.#spare = Number.NaN;
      return spare;
    }
    for (;;) {
      const u = 2 * this.uniform() - 1;
      const v = 2 * this.uniform() - 1;
      const s = u * u + v * v;
      if (s > 0 && s < 1) {
        const scale = Math.sqrt((-2 * Math.log(s)) / s);
        this.#spare = v * scale;
        return u * scale;
      }
    }
  }
}
