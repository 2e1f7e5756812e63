import { WaveFileWriter } from '../../app/work/wave-file.ts';
import { Random } from '../../core/signal/random.ts';

export interface BenchInput {
  readonly path: string;
  readonly lengthSec: number;
  readonly seed: number;
  /** Lowest note, Hz. */
  readonly pitchHz: number;
  /** Silence before the music, s; a clap stands in its last third. */
  readonly startSec: number;
}

const RATE_HZ = 48000;
const BLOCK = 16384;
const NOTE_FRAMES = RATE_HZ / 2;
/** Steps of a scale above the lowest note, semitones. */
const SCALE = [0, 2, 4, 5, 7, 9, 11, 12];

/**
 * Writes a take for the bench: room noise throughout, a clap, then notes of half a second with six harmonics. Mono
 * 48 kHz 16 bit WAV, seeded.
 */
export function makeBenchTake(input: BenchInput): void {
  const random = new Random(input.seed);
  const writer = new WaveFileWriter(input.path, { format: 'pcm16', channels: 1, rateHz: RATE_HZ });
  const clapFrame = Math.round(input.startSec * 0.75 * RATE_HZ);
  const musicFrame = Math.round(input.startSec * RATE_HZ);
  const total = Math.round(input.lengthSec * RATE_HZ);
  const block = new Float32Array(BLOCK);
  const envelope = Float64Array.from({ length: NOTE_FRAMES }, (_, n) => Math.min(1, n / 900) * Math.exp(-n / 14000));
  let hz = input.pitchHz;
  let brown = 0;
  for (let from = 0; from < total; from += BLOCK) {
    const frames = Math.min(BLOCK, total - from);
    for (let n = 0; n < frames; n++) {
      const frame = from + n;
      const white = random.uniform() - 0.5;
      brown = 0.98 * brown + 0.02 * white;
      let value = 0.02 * brown + 0.002 * white;
      const sinceClap = frame - clapFrame;
      if (sinceClap >= 0 && sinceClap < 4800) value += white * Math.exp(-sinceClap / 700);
      const inMusic = frame - musicFrame;
      if (inMusic >= 0 && frame < total - 2 * RATE_HZ) {
        const inNote = inMusic % NOTE_FRAMES;
        if (inNote === 0) hz = input.pitchHz * 2 ** (SCALE[random.uint32() % SCALE.length]! / 12);
        value += 0.12 * envelope[inNote]! * sixHarmonics((2 * Math.PI * hz * inMusic) / RATE_HZ);
      }
      block[n] = value;
    }
    writer.write([block.subarray(0, frames)]);
  }
  writer.finish();
}

/** Sum of sin(k phase) / k, k = 1 to 6, each from the two before it: six sines a sample took most of a take's making. */
function sixHarmonics(phase: number): number {
  const twice = 2 * Math.cos(phase);
  const first = Math.sin(phase);
  const second = twice * first;
  const third = twice * second - first;
  const fourth = twice * third - second;
  const fifth = twice * fourth - third;
  const sixth = twice * fifth - fourth;
  return first + second / 2 + third / 3 + fourth / 4 + fifth / 5 + sixth / 6;
}
