/**
 * Frames in which more is than in those within `apart` of them (of as much the first), and more than a share of what is usual: the
 * quantile of all that are not nothing. None so near to either end that not all of these are there.
 */
export function loneFrames(values: Float64Array, share: number, quantile: number, apart: number): number[] {
  const some = values.filter((value) => value > 0).sort();
  const least = share * (some[Math.floor(quantile * some.length)] ?? 0);
  const found: number[] = [];
  for (let frame = apart; frame + apart < values.length; frame++) {
    if (values[frame]! > least && isHighest(values, frame, apart)) found.push(frame);
  }
  return found;
}

function isHighest(values: Float64Array, at: number, apart: number): boolean {
  for (let n = at - apart; n <= at + apart; n++) {
    if (values[n]! > values[at]! || (values[n] === values[at] && n < at)) return false;
  }
  return true;
}
