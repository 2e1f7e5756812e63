import { Random } from '../../../../core/signal/random.ts';

export const SEVERAL_RATE_HZ = 32000;

/** One take in a clip: s of the clip at which it is clapped (null: it is not), and at which its music begins and ends. */
export interface ClipTake {
  readonly clapSec: number | null;
  readonly fromSec: number;
  readonly toSec: number;
  /** Linear, 1 when absent. */
  readonly gain?: number;
}

/** A clip of room noise at -54 dBFS in which a melody of plucked notes is played several times; seed: of the noise. */
export function severalClip(lengthSec: number, takes: readonly ClipTake[], seed = 1): Float32Array {
  const random = new Random(seed);
  const samples = Float32Array.from({ length: lengthSec * SEVERAL_RATE_HZ }, () => 0.002 * random.gaussian());
  for (const { clapSec, fromSec, toSec, gain = 1 } of takes) {
    const clap = clapSec === null ? 0 : Math.round(clapSec * SEVERAL_RATE_HZ);
    for (let n = 0; clapSec !== null && n < 3000; n++) {
      samples[clap + n]! += 0.5 * Math.exp(-n / 300) * random.gaussian();
    }
    const notes = new Random(11);
    for (let atSec = fromSec; atSec < toSec; ) {
      const hz = 220 * 2 ** (Math.floor(14 * notes.uniform()) / 12);
      const noteSec = 0.25 * (1 + Math.floor(3 * notes.uniform()));
      const begin = Math.round(atSec * SEVERAL_RATE_HZ);
      for (let n = 0; n < noteSec * SEVERAL_RATE_HZ && begin + n < toSec * SEVERAL_RATE_HZ; n++) {
        const sec = n / SEVERAL_RATE_HZ;
        const shape = Math.min(1, (sec + 0.001) / 0.02) * Math.exp(-2 * sec);
        for (const [partial, share] of [1, 0.5, 0.25].entries())
          samples[begin + n]! += 0.15 * gain * share * shape * Math.sin(2 * Math.PI * hz * (partial + 1) * sec);
      }
      atSec += noteSec;
    }
  }
  return samples;
}

/** Three takes of 15 s; the second is clapped, too. */
export const THREE_TAKES: readonly ClipTake[] = [
  { clapSec: 4, fromSec: 7, toSec: 22 },
  { clapSec: 30, fromSec: 33, toSec: 48 },
  { clapSec: 57, fromSec: 60, toSec: 75 },
];
export const THREE_TAKES_SEC = 80;
