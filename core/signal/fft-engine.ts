/** What transforms one size; see RealFft (fft.ts). */
export interface FftEngine {
  forward(input: Float64Array, re: Float64Array, im: Float64Array): void;
  inverse(re: Float64Array, im: Float64Array, output: Float64Array): void;
}
