import * as meydaModule from 'meyda';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';

type Meyda = typeof meydaModule.default;

// The package comes as one object under Node and as a module with a default in the page.
const meyda: Meyda = meydaModule.default ?? (meydaModule as unknown as Meyda);

/** Samples of one look at the spectrum; a power of two, as meyda needs. */
export const LOOK_FRAMES = 8192;
/** Lowest and highest third of an octave shown, as n in 1000 * 10^(n/10) Hz: 50 Hz and 16 kHz. */
const LOWEST = -13;
const HIGHEST = 12;
/** Energy of a Hann window, as share of its length. */
const HANN_ENERGY = 0.375;

/** Middles of the thirds of an octave shown, Hz. Source: IEC 61260-1, base ten. */
export const bandMiddlesHz: readonly number[] = Array.from(
  { length: HIGHEST - LOWEST + 1 },
  (_, n) => 1000 * 10 ** ((LOWEST + n) / 10),
);

/** One look at what is heard. */
export interface SpectrumLook {
  /** Level of each third of an octave, dBFS (a full-scale sine is 0); -Infinity where nothing is. */
  readonly bandsDb: Float64Array;
  /** Where the middle of the sound's amplitude lies, Hz: how bright it is; null in silence. */
  readonly centreHz: number | null;
}

/**
 * The spectrum of LOOK_FRAMES samples at 48 kHz through meyda, gathered into thirds of an octave. The one file that knows
 * meyda: its settings are global and set here before each look; in silence its centroid is not a number.
 */
export function lookAt(samples: Float32Array): SpectrumLook {
  if (samples.length !== LOOK_FRAMES)
    throw new RangeError(`a look takes ${LOOK_FRAMES} samples, not ${samples.length}`);
  meyda.bufferSize = LOOK_FRAMES;
  meyda.sampleRate = SESSION_RATE_HZ;
  meyda.windowingFunction = 'hanning';
  const found = meyda.extract(['powerSpectrum', 'spectralCentroid'], samples);
  const power = found?.powerSpectrum;
  if (power === undefined) throw new Error('meyda gave no spectrum');
  const centre = found?.spectralCentroid;
  return {
    bandsDb: gather(power),
    centreHz: centre === undefined || !Number.isFinite(centre) ? null : (centre * SESSION_RATE_HZ) / LOOK_FRAMES,
  };
}

function gather(power: ArrayLike<number>): Float64Array {
  const binHz = SESSION_RATE_HZ / LOOK_FRAMES;
  // Both sides of the spectrum, a sine of 1 has the mean square 1/2 and counts as 0 dB.
  const scale = (2 * 2) / (LOOK_FRAMES * LOOK_FRAMES * HANN_ENERGY);
  const half = 10 ** 0.05;
  return Float64Array.from(bandMiddlesHz, (middle) => {
    const from = middle / half / binHz;
    const to = (middle * half) / binHz;
    let sum = 0;
    // A bin is as wide as its distance to the next; bands share bins that lie across their edge.
    for (let bin = Math.floor(from + 0.5); bin - 0.5 < to && bin < power.length; bin++) {
      const share = Math.min(to, bin + 0.5) - Math.max(from, bin - 0.5);
      if (share > 0) sum += share * power[bin]!;
    }
    return 10 * Math.log10(sum * scale);
  });
}
