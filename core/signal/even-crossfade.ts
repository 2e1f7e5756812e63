/** Waves that are less alike than this get no more gain for it: see JoinMatch of core/mix. */
const LEAST_LIKENESS = -0.25;

/**
 * Crossfade whose power is even for waves as alike as these are (Fink, Holters, Zölzer, Signal-matched power-complementary
 * cross-fading, 2016; equal power where they are not alike). target: `left` before frame `fadeFrom`, `right` from `fadeTo` on;
 * all of one length. target may be one of the two.
 */
export function evenCrossfade(
  left: Float32Array,
  right: Float32Array,
  target: Float32Array,
  fadeFrom: number,
  fadeTo: number,
): void {
  const likeness = likenessOf(left, right, fadeFrom, fadeTo);
  for (let n = 0; n < target.length; n++) {
    const part = (n + 0.5 - fadeFrom) / (fadeTo - fadeFrom);
    if (part <= 0) target[n] = left[n]!;
    else if (part >= 1) target[n] = right[n]!;
    else {
      const angle = (Math.PI / 2) * part;
      const even = 1 / Math.sqrt(1 + likeness * Math.sin(2 * angle));
      target[n] = even * (Math.cos(angle) * left[n]! + Math.sin(angle) * right[n]!);
    }
  }
}

function likenessOf(left: Float32Array, right: Float32Array, from: number, to: number): number {
  let cross = 0;
  let leftPower = 0;
  let rightPower = 0;
  for (let n = from; n < to; n++) {
    cross += left[n]! * right[n]!;
    leftPower += left[n]! ** 2;
    rightPower += right[n]! ** 2;
  }
  if (leftPower === 0 || rightPower === 0) return 0;
  return Math.max(LEAST_LIKENESS, cross / Math.sqrt(leftPower * rightPower));
}
