/** What in a sound is like what went before it, as ../../block-lags.ts has it, in single precision. Addresses are bytes in memory. */

/** Sum of the four numbers of a vector. */
// @ts-ignore: decorator
@inline function sumOf(a: v128): f32 {
  const pairs = f32x4.add(a, v128.shuffle<f32>(a, a, 2, 3, 0, 1));
  return f32x4.extract_lane(pairs, 0) + f32x4.extract_lane(pairs, 1);
}

// @ts-ignore: decorator
@inline function squareAt(sample: usize): f64 {
  const value = <f64>load<f32>(sample);
  return value * value;
}

/**
 * For blocks of `block` samples (a multiple of four) from `first` on, `hop` apart, to before `last`: the lag from `least` to `most` at which each
 * is most like what lies so far before it, a 32-bit number each to `lags`, and the square of the likeness, in double precision, to `squares`; 0
 * both where it is like nothing. nothing: what is added to the energy of a sample. Three samples before the first that counts are read too.
 * Returns how many blocks there are.
 */
export function likeliestLags(
  samples: usize, first: i32, last: i32, hop: i32, block: i32, least: i32, most: i32, nothing: f64, sums: usize, lags: usize, squares: usize,
): i32 {
  const length = <usize>block << 2;
  const floor = nothing * <f64>block;
  let count = 0;
  for (let at = first; at < last; at += hop, count++) {
    const here = samples + (<usize>at << 2);
    for (let lag = least; lag <= most; lag += 4) {
      let a = f32x4.splat(0);
      let b = f32x4.splat(0);
      let c = f32x4.splat(0);
      let d = f32x4.splat(0);
      let past = here - (<usize>lag << 2);
      let now = here;
      for (const end = here + length; now < end; now += 16, past += 16) {
        const one = v128.load(now);
        a = f32x4.add(a, f32x4.mul(one, v128.load(past)));
        b = f32x4.add(b, f32x4.mul(one, v128.load(past - 4)));
        c = f32x4.add(c, f32x4.mul(one, v128.load(past - 8)));
        d = f32x4.add(d, f32x4.mul(one, v128.load(past - 12)));
      }
      const to = sums + (<usize>(lag - least) << 2);
      store<f32>(to, sumOf(a));
      store<f32>(to, sumOf(b), 4);
      store<f32>(to, sumOf(c), 8);
      store<f32>(to, sumOf(d), 12);
    }
    let own = floor;
    for (let n: usize = 0; n < length; n += 4) own += squareAt(here + n);
    let past = here - (<usize>least << 2);
    let energy = floor;
    for (let n: usize = 0; n < length; n += 4) energy += squareAt(past + n);
    let highest: f64 = 0;
    let chosen = 0;
    for (let lag = least; lag <= most; lag++) {
      const sum = <f64>load<f32>(sums + (<usize>(lag - least) << 2));
      if (sum > 0 && sum * sum > highest * energy) {
        highest = (sum * sum) / energy;
        chosen = lag;
      }
      past -= 4;
      energy += squareAt(past) - squareAt(past + length);
    }
    store<i32>(lags + (<usize>count << 2), chosen);
    store<f64>(squares + (<usize>count << 3), highest / own);
  }
  return count;
}
