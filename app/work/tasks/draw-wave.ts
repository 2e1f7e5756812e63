import { renameSync, rmSync, writeFileSync } from 'node:fs';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { CutSpots } from '../cut-spots.ts';
import { partOf } from '../part-path.ts';
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
    const part = partOf(request.target);
    try {
      writeFileSync(part, Buffer.concat(levels.map((level) => Buffer.from(level.buffer, 0, level.byteLength))));
      renameSync(part, request.target);
    } finally {
      rmSync(part, { force: true });
    }
    return {
      pairs: levels.map((level) => level.length / 2),
      lengthFrames: sound.lengthFrames,
      clipped: spots?.result(request.rateHz) ?? [],
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
