/**
 * Taps of the linear predictor of a sound by Levinson's and Durbin's recursion. Source: Makhoul 1975, "Linear prediction: a tutorial
 * review", Proc. IEEE 63(4), eq. 38. lags: autocorrelation from lag 0 on, with what keeps it positive definite already added to lag
 * 0. taps: as long, overwritten: 1, then such that the sum of taps[k] x[n - k] is the error of the prediction. spare: scratch, as long.
 */
export function predictorTaps(lags: Float64Array, taps: Float64Array, spare: Float64Array): void {
  taps.fill(0);
  taps[0] = 1;
  let error = lags[0]!;
  for (let order = 1; order < lags.length; order++) {
    let sum = lags[order]!;
    for (let k = 1; k < order; k++) sum += taps[k]! * lags[order - k]!;
    const reflection = -sum / error;
    spare.set(taps);
    for (let k = 1; k < order; k++) taps[k] = spare[k]! + reflection * spare[order - k]!;
    taps[order] = reflection;
    error *= Math.max(1e-12, 1 - reflection * reflection);
  }
}
