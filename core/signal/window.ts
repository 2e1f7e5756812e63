/** Windows are periodic (DFT-even), so that they overlap-add to a constant. Source: Harris 1978, Proc. IEEE 66(1). */
export type WindowShape = 'hann' | 'sine' | 'hamming' | 'blackman' | 'blackmanHarris';

const COSINE_TERMS: Record<Exclude<WindowShape, 'sine'>, readonly number[]> = {
  hann: [0.5, 0.5],
  hamming: [0.54, 0.46],
  blackman: [0.42, 0.5, 0.08],
  blackmanHarris: [0.35875, 0.48829, 0.14128, 0.01168],
};

/** `size` samples of a periodic window, peak 1. 'sine' is the square root of Hann. */
export function makeWindow(shape: WindowShape, size: number): Float64Array {
  const window = new Float64Array(size);
  if (shape === 'sine') {
    for (let n = 0; n < size; n++) window[n] = Math.sin((Math.PI * n) / size);
    return window;
  }
  const terms = COSINE_TERMS[shape];
  for (let n = 0; n < size; n++) {
    let value = 0;
    for (let k = 0; k < terms.length; k++) {
      value += (k % 2 === 0 ? 1 : -1) * terms[k]! * Math.cos((2 * Math.PI * k * n) / size);
    }
    window[n] = value;
  }
  return window;
}
