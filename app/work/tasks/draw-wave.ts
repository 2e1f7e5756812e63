import { renameSync, rmSync, writeFileSync } from 'node:fs';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { type OpenSound, openSound } from '../sound-file.ts';
import { WavePyramid } from '../wave-pyramid.ts';

export interface DrawWaveRequest {
  readonly soundPath: string;
  readonly rateHz: number;
  /** Frames that the pairs of each level stand for; each a multiple of the one before. */
  readonly levelFrames: readonly number[];
  /** Where the pyramid goes: its levels one after the other, Int16 pairs lowest, highest. */
  readonly target: string;
  /** Magnitude from which on a sample counts as cut off, full scale 1; null where nothing is clipped. */
  readonly clipThreshold: number | null;
}

/** A waveform pyramid in a file. Plain JSON. */
export interface DrawnWave {
  /** Pairs of each level. */
  readonly pairs: readonly number[];
  readonly lengthFrames: number;
  /** Where the tops of waves were cut off: runs of such samples, those close together as one. Seconds. */
  readonly clipped: readonly { readonly fromSec: number; readonly toSec: number }[];
}

const BLOCK_FRAMES = 65536;
/** A cut top is flat: so many samples in a row, at the least. */
const CUT_RUN = 2;
/** Cut tops nearer than this are one spot, s. */
const SPOT_GAP_SEC = 0.25;
/** More spots than these are no news; the nearest are then joined. */
const MOST_SPOTS = 500;

/** Draws a sound's waveform pyramid in one pass, and finds where it is clipped. */
export async function drawWave(request: DrawWaveRequest, control: TaskControl): Promise<DrawnWave> {
  const sound = openSound(request.soundPath, request.rateHz);
  try {
    const pyramid = new WavePyramid(request.levelFrames);
    const spots = request.clipThreshold === null ? undefined : new CutSpots(request.clipThreshold);
    await readAll(sound, control, (samples) => {
      pyramid.add(samples);
      spots?.add(samples);
    });
    const levels = pyramid.result();
    const part = `${request.target}.part`;
    try {
      writeFileSync(part, Buffer.concat(levels.map((level) => Buffer.from(level.buffer, 0, level.byteLength))));
      renameSync(part, request.target);
    } finally {
      rmSync(part, { force: true });
    }
    return {
      pairs: levels.map((level) => level.length / 2),
      lengthFrames: sound.lengthFrames,
      clipped: joined(spots?.runs ?? [], request.rateHz),
    };
  } finally {
    sound.close();
  }
}

async function readAll(sound: OpenSound, control: TaskControl, use: (samples: Float32Array) => void): Promise<void> {
  const buffer = new Float32Array(BLOCK_FRAMES);
  for (let from = 0; from < sound.lengthFrames; from += BLOCK_FRAMES) {
    throwIfCancelled(control.cancel);
    const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, sound.lengthFrames - from));
    sound.read(from, samples);
    use(samples);
    control.onProgress(from / sound.lengthFrames);
    await control.breathe();
  }
}

/** Runs of samples at or above a magnitude, as frames from, to, from, to, ... */
class CutSpots {
  readonly runs: number[] = [];
  readonly #threshold: number;
  #frame = 0;
  #run = 0;

  constructor(threshold: number) {
    this.#threshold = threshold;
  }

  add(samples: Float32Array): void {
    const threshold = this.#threshold;
    for (let n = 0; n < samples.length; n++) {
      const value = samples[n]!;
      if (value < threshold && value > -threshold) this.#run = 0;
      else this.#hit(this.#frame + n);
    }
    this.#frame += samples.length;
  }

  #hit(frame: number): void {
    this.#run++;
    if (this.#run < CUT_RUN) return;
    if (this.#run > CUT_RUN) this.runs[this.runs.length - 1] = frame + 1;
    else this.runs.push(frame + 1 - CUT_RUN, frame + 1);
  }
}

function joined(runs: readonly number[], rateHz: number): { fromSec: number; toSec: number }[] {
  let gapSec = SPOT_GAP_SEC;
  for (;;) {
    const spots: { fromSec: number; toSec: number }[] = [];
    for (let n = 0; n < runs.length; n += 2) {
      const fromSec = runs[n]! / rateHz;
      const toSec = runs[n + 1]! / rateHz;
      const last = spots.at(-1);
      if (last !== undefined && fromSec - last.toSec < gapSec) last.toSec = toSec;
      else spots.push({ fromSec, toSec });
    }
    if (spots.length <= MOST_SPOTS) return spots;
    gapSec *= 2;
  }
}
