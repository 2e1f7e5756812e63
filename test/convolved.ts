import { plannedFft } from './planned-fft.ts';

/** The largest transform that is done by the kernel: larger ones took four times as long a sample. */
const MOST_SIZE = 65536;

/** A sound through a response, as long as the sound; block by block, each part of the response for itself (overlap and add). */
export function convolved(sound: Float32Array, response: Float64Array): Float32Array {
  let size = 8;
  while (size < MOST_SIZE && size < sound.length + response.length) size *= 2;
  const out = new Float64Array(sound.length);
  for (let from = 0; from < response.length; from += size / 2) {
    addConvolved(out.subarray(Math.min(from, out.length)), sound, response.subarray(from, from + size / 2), size);
  }
  return new Float32Array(out);
}

function addConvolved(to: Float64Array, sound: Float32Array, part: Float64Array, size: number): void {
  const fft = plannedFft(size);
  const [re, im, ownRe, ownIm] = Array.from({ length: 4 }, () => new Float64Array(fft.bins)) as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  const samples = new Float64Array(size);
  samples.set(part);
  fft.forward(samples, ownRe, ownIm);
  const step = size - part.length + 1;
  for (let at = 0; at < to.length; at += step) {
    samples.fill(0);
    samples.set(sound.subarray(at, at + step));
    fft.forward(samples, re, im);
    multiply(re, im, ownRe, ownIm);
    fft.inverse(re, im, samples);
    add(to, at, samples);
  }
}

/** The first spectrum becomes the product of both. */
function multiply(re: Float64Array, im: Float64Array, otherRe: Float64Array, otherIm: Float64Array): void {
  for (let k = 0; k < re.length; k++) {
    const real = re[k]! * otherRe[k]! - im[k]! * otherIm[k]!;
    im[k] = re[k]! * otherIm[k]! + im[k]! * otherRe[k]!;
    re[k] = real;
  }
}

function add(to: Float64Array, at: number, samples: Float64Array): void {
  const end = Math.min(samples.length, to.length - at);
  for (let n = 0; n < end; n++) to[at + n]! += samples[n]!;
}
