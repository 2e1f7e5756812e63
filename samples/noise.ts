import { Random } from '../core/signal/random.ts';
import { bandPass, filterInPlace, highPass, lowPass } from './filter.ts';

/** What hums, blows or whistles in a home. */
export type NoiseKind = 'air' | 'fan' | 'hum' | 'whine';

/** A steady tone in a noise: frequency, and power against the broad part, dB. */
interface Line {
  readonly hz: number;
  readonly powerDb: number;
}

/** Mains at a socket in the evening: near 50 Hz, never on it. */
export const MAINS_HZ = 49.98;
const BLADE_HZ = 92.7;
/** A coil and its multiple, and a disk. */
export const WHINE_HZ = [2960, 5920, 7740] as const;

function linesOf(kind: NoiseKind): Line[] {
  switch (kind) {
    case 'air':
      return [];
    case 'fan':
      return [1, 2, 3, 4].map((k) => ({ hz: BLADE_HZ * k, powerDb: 2 - 4 * k }));
    case 'hum':
      return Array.from({ length: 16 }, (_, i) => i + 1).map((k) => ({
        hz: MAINS_HZ * k,
        powerDb: (k % 2 === 0 ? 4 : 1) - 1.3 * k,
      }));
    case 'whine':
      return WHINE_HZ.map((hz, i) => ({ hz, powerDb: -8 - 4 * i }));
  }
}

/** Room noise of a kind on the take's clock: broad noise of power 1 with its tones. Seeded; not yet coloured by a phone. */
export function makeNoise(kind: NoiseKind, lengthFrames: number, rateHz: number, seed: number): Float64Array {
  const random = new Random(seed);
  const noise = broadNoise(kind, lengthFrames, rateHz, random);
  for (const line of linesOf(kind)) addLine(noise, line, kind === 'fan' ? 0.12 : 0.02, rateHz, random);
  return noise;
}

/** Gaussian noise of power 1 whose spectrum falls with frequency, with the hump of a housing where there is a fan. */
function broadNoise(kind: NoiseKind, lengthFrames: number, rateHz: number, random: Random): Float64Array {
  const noise = new Float64Array(lengthFrames);
  let rumble = 0;
  let middle = 0;
  const rumbleStep = 1 - Math.exp((-2 * Math.PI * 140) / rateHz);
  const middleStep = 1 - Math.exp((-2 * Math.PI * 1100) / rateHz);
  const hiss = kind === 'hum' ? 0.16 : 0.1;
  for (let i = 0; i < lengthFrames; i++) {
    const white = random.gaussian();
    rumble += rumbleStep * (white - rumble);
    middle += middleStep * (random.gaussian() - middle);
    noise[i] = 3 * rumble + 0.9 * middle + hiss * random.gaussian();
  }
  if (kind === 'fan' || kind === 'whine') {
    const hump = noise.slice();
    filterInPlace(hump, bandPass(kind === 'fan' ? 430 : 800, 1.2, rateHz));
    for (let i = 0; i < lengthFrames; i++) noise[i]! += 1.1 * hump[i]!;
  }
  filterInPlace(noise, highPass(60, rateHz));
  const gain = 1 / rms(noise, 0, lengthFrames);
  for (let i = 0; i < lengthFrames; i++) noise[i]! *= gain;
  return noise;
}

/** A tone whose strength breathes a little and whose frequency wanders by some hundredths of a per cent. */
function addLine(noise: Float64Array, line: Line, breathing: number, rateHz: number, random: Random): void {
  const amplitude = Math.SQRT2 * 10 ** (line.powerDb / 20);
  const slowHz = 0.15 + 0.25 * random.uniform();
  const slowPhase = 2 * Math.PI * random.uniform();
  let phase = random.uniform();
  for (let i = 0; i < noise.length; i++) {
    const slow = Math.sin((2 * Math.PI * slowHz * i) / rateHz + slowPhase);
    phase += (line.hz * (1 + 0.0001 * slow)) / rateHz;
    phase -= Math.floor(phase);
    noise[i]! += amplitude * (1 + breathing * slow) * Math.sin(2 * Math.PI * phase);
  }
}

/** Root mean square of the frames from, to. */
export function rms(sound: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let i = from; i < to; i++) sum += sound[i]! * sound[i]!;
  return Math.sqrt(sum / Math.max(1, to - from));
}

/** Short sounds of hands and things. */
export type EventKind = 'clap' | 'knock' | 'rub' | 'page';

interface EventShape {
  readonly lengthSec: number;
  readonly bands: readonly (readonly [middleHz: number, q: number, ratio: number])[];
  readonly envelope: (t: number) => number;
}

const EVENTS: Record<EventKind, EventShape> = {
  clap: {
    lengthSec: 0.09,
    bands: [
      [950, 1.6, 1],
      [1900, 1.8, 0.8],
      [3800, 1.3, 0.5],
    ],
    envelope: (t) => Math.min(1, t / 0.0003) * (Math.exp(-t / 0.0045) + 0.12 * Math.exp(-t / 0.02)),
  },
  knock: {
    lengthSec: 0.16,
    bands: [
      [170, 3, 1.2],
      [520, 2, 0.8],
      [1500, 1, 0.15],
    ],
    envelope: (t) => Math.min(1, t / 0.001) * Math.exp(-t / 0.016),
  },
  rub: {
    lengthSec: 0.45,
    bands: [
      [130, 0.8, 1],
      [900, 0.7, 0.25],
    ],
    envelope: (t) => Math.sin((Math.PI * t) / 0.45) * (0.4 + Math.abs(Math.sin(31 * t) * Math.sin(17 * t + 1))),
  },
  page: {
    lengthSec: 0.6,
    bands: [
      [2600, 0.8, 0.7],
      [5200, 0.8, 0.6],
    ],
    envelope: (t) => Math.sin((Math.PI * t) / 0.6) ** 2 * Math.abs(Math.sin(44 * t) * Math.sin(27 * t + 0.6)) ** 2,
  },
};

/** One event, dry, at 48 kHz, peak 1, its attack at frame 0. */
export function makeEvent(kind: EventKind, seed: number): Float64Array {
  const rateHz = 48000;
  const random = new Random(seed);
  const shape = EVENTS[kind];
  const length = Math.round(shape.lengthSec * rateHz);
  const event = new Float64Array(length);
  for (const [middleHz, q, ratio] of shape.bands) {
    const band = Float64Array.from({ length: length + 4800 }, () => random.gaussian());
    filterInPlace(band, bandPass(middleHz, q, rateHz));
    const gain = ratio / rms(band, 0, band.length);
    for (let i = 0; i < length; i++) event[i]! += gain * band[i + 4800]!;
  }
  for (let i = 0; i < length; i++) event[i]! *= shape.envelope(i / rateHz);
  filterInPlace(event, lowPass(11000, rateHz));
  const gain = 1 / event.reduce((most, x) => Math.max(most, Math.abs(x)), 0);
  for (let i = 0; i < length; i++) event[i]! *= gain;
  return event;
}
