/** The likeliest path through lags, as ../../../lag-scores.ts finds it. */

/** The first of the greatest. */
function highest(values: usize, width: i32): i32 {
  let best = 0;
  let most = load<f64>(values);
  for (let n = 1; n < width; n++) {
    const value = load<f64>(values + (<usize>n << 3));
    if (!(value > most)) continue;
    most = value;
    best = n;
  }
  return best;
}

/** Best way to one lag: from those within `reach` at a cost, else by a jump from the best of all. */
function arriveAt(
  lag: i32, score: usize, next: usize, came: usize, width: i32, costs: usize, reach: i32, jumped: f64, best: i32,
): void {
  let most = jumped;
  let from = best;
  const to = min(width - 1, lag + reach);
  for (let other = max(0, lag - reach); other <= to; other++) {
    const value = load<f64>(score + (<usize>other << 3)) - load<f64>(costs + (<usize>abs(lag - other) << 3));
    if (!(value > most)) continue;
    most = value;
    from = other;
  }
  store<f64>(next + (<usize>lag << 3), most);
  store<i32>(came + (<usize>lag << 2), from);
}

/**
 * One step of the likeliest path through `width` lags (see ../../../lag-scores.ts): from the scores so far to those after it, and from which lag each
 * came; costs: of straying by 0 to `reach` lags. A negative reach: the first step, which comes from nowhere and only takes the scores over. Then
 * `row` is added, times `gain` less `against`, and no less than `least`.
 */
export function goOn(
  score: usize, next: usize, came: usize, width: i32, costs: usize, reach: i32, jumpCost: f64,
  row: usize, gain: f64, against: f64, least: f64,
): void {
  if (reach >= 0) {
    const best = highest(score, width);
    const jumped = load<f64>(score + (<usize>best << 3)) - jumpCost;
    const inner = max(min(reach, width), 0);
    let lag = 0;
    for (; lag < inner; lag++) arriveAt(lag, score, next, came, width, costs, reach, jumped, best);
    for (; lag + 1 + reach < width; lag += 2) {
      let most = f64x2.splat(jumped);
      let from = i64x2.splat(best);
      let other = i64x2.add(i64x2.splat(lag - reach), i64x2(0, 1));
      const one = i64x2.splat(1);
      let at = score + (<usize>(lag - reach) << 3);
      for (let apart = -reach; apart <= reach; apart++, at += 8) {
        const value = f64x2.sub(v128.load(at), v128.load64_splat(costs + (<usize>abs(apart) << 3)));
        const more = f64x2.gt(value, most);
        most = v128.bitselect(value, most, more);
        from = v128.bitselect(other, from, more);
        other = i64x2.add(other, one);
      }
      v128.store(next + (<usize>lag << 3), most);
      store<i32>(came + (<usize>lag << 2), <i32>i64x2.extract_lane(from, 0));
      store<i32>(came + (<usize>lag << 2), <i32>i64x2.extract_lane(from, 1), 4);
    }
    for (; lag < width; lag++) arriveAt(lag, score, next, came, width, costs, reach, jumped, best);
  } else memory.copy(next, score, <usize>width << 3);
  for (let lag = 0; lag < width; lag++) {
    const at = <usize>lag << 3;
    store<f64>(next + at, load<f64>(next + at) + max<f64>(least, gain * load<f64>(row + at) - against));
  }
}

/** The first of the greatest of `width` doubles. */
export function placeOfHighest(values: usize, width: i32): i32 {
  return highest(values, width);
}
