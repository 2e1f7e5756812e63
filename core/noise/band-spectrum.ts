import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { makeWindow } from '../signal/window.ts';
import type { Stretch } from './learn.ts';

/** A third of an octave and the level in it. */
export interface BandLevel {
  /** Middle of the band, exact: 1000 * 10^(n/10) Hz. Source: IEC 61260-1, base ten. */
  readonly hz: number;
  /** dBFS (a full-scale sine is 0); -200 stands for nothing. */
  readonly levelDbfs: number;
}

const SIZE = 16384;
const LOWEST_BAND = -16; // 25 Hz
const HIGHEST_BAND = 12; // 16 kHz

/**
 * Levels in thirds of an octave of a stretch of a sound, for pictures: 25 Hz to 16 kHz or half the rate. Hann windows of
 * 16384 frames, half overlapped; shorter stretches are read with what lies around them.
 */
export function bandSpectrum(sound: Sound, stretch: Stretch): BandLevel[] {
  const fft = new RealFft(SIZE);
  const window = makeWindow('hann', SIZE);
  const samples = new Float32Array(SIZE);
  const input = new Float64Array(SIZE);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const power = new Float64Array(fft.bins);
  let frames = 0;
  for (let from = stretch.fromFrame; frames === 0 || from + SIZE <= stretch.toFrame; from += SIZE / 2) {
    sound.read(from, samples);
    for (let n = 0; n < SIZE; n++) input[n] = samples[n]! * window[n]!;
    fft.forward(input, re, im);
    for (let k = 0; k < power.length; k++) power[k]! += re[k]! * re[k]! + im[k]! * im[k]!;
    frames++;
  }
  // Mean square of a band is its bins' sum over N times the window's energy (3/8 N), both sides; a sine of 1 has 1/2.
  const scale = (2 * 2) / (SIZE * SIZE * 0.375 * frames);
  const levels: BandLevel[] = [];
  for (let band = LOWEST_BAND; band <= HIGHEST_BAND; band++) {
    const hz = 1000 * 10 ** (band / 10);
    const edge = 10 ** (1 / 20);
    if (hz * edge > sound.rateHz / 2) break;
    const first = (hz / edge / sound.rateHz) * SIZE;
    const last = ((hz * edge) / sound.rateHz) * SIZE;
    let sum = 0;
    for (let k = Math.floor(first + 0.5); k < last + 0.5; k++) {
      const share = Math.min(k + 0.5, last) - Math.max(k - 0.5, first);
      if (share > 0) sum += share * power[k]!;
    }
    levels.push({ hz, levelDbfs: sum > 0 ? Math.max(-200, 10 * Math.log10(sum * scale)) : -200 });
  }
  return levels;
}
