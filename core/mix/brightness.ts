import { BRIGHT_HZ } from './join-hearing.ts';

/** Frames that the filter reaches to each side at 48 kHz: 1 ms, a slope of about an octave. */
const REACH_AT_48K = 48;

/**
 * Makes what lies above BRIGHT_HZ louder or softer by a gain that may change from frame to frame: the sound less its
 * low-pass part (a symmetric windowed sinc, so without shift in time) is scaled. Every frame is made from the frames
 * around it alone, so it does not depend on how the sound was cut.
 */
export class Brightness {
  /** Frames needed before and after those that are made. */
  readonly reach: number;
  /** Of the low-pass part, from its middle outwards. */
  readonly #taps: Float64Array;

  constructor(rateHz: number) {
    this.reach = Math.round((REACH_AT_48K * rateHz) / 48000);
    const cut = (2 * BRIGHT_HZ) / rateHz;
    const taps = Float64Array.from({ length: this.reach + 1 }, (_, n) => {
      const sinc = n === 0 ? cut : Math.sin(Math.PI * cut * n) / (Math.PI * n);
      return sinc * (0.5 + 0.5 * Math.cos((Math.PI * n) / (this.reach + 1)));
    });
    const sum = taps[0]! + 2 * taps.subarray(1).reduce((all, tap) => all + tap, 0);
    this.#taps = taps.map((tap) => tap / sum);
  }

  /** The sample at an index with its high part scaled. samples: at least `reach` more to each side. gain: linear. */
  at(samples: Float32Array, index: number, gain: number): number {
    const taps = this.#taps;
    const sample = samples[index]!;
    let low = taps[0]! * sample;
    for (let n = 1; n < taps.length; n++) low += taps[n]! * (samples[index - n]! + samples[index + n]!);
    return sample + (gain - 1) * (sample - low);
  }
}
