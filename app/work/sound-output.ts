import { renameSync, rmSync } from 'node:fs';
import { partOf } from './part-path.ts';
import { SoundFileWriter } from './sound-file.ts';
import { WaveFileWriter } from './wave-file.ts';

/** A sound that is being written. */
export interface SoundOutput {
  write(samples: Float32Array): void;
  /** whole: all was written; else what is there is of no use. */
  end(whole: boolean): void;
}

/** 'cache': plain samples under a name taken when whole. 'wave': a mono float WAVE file, whose place the caller cares for. */
export type SoundForm = 'cache' | 'wave';

export function openOutput(path: string, form: SoundForm, rateHz: number): SoundOutput {
  return form === 'wave' ? waveOutput(path, rateHz) : cacheOutput(path);
}

function cacheOutput(path: string): SoundOutput {
  const part = partOf(path);
  const writer = new SoundFileWriter(part);
  return {
    write: (samples) => writer.write(samples),
    end(whole) {
      try {
        writer.close();
        if (whole) renameSync(part, path);
      } finally {
        rmSync(part, { force: true });
      }
    },
  };
}

function waveOutput(path: string, rateHz: number): SoundOutput {
  const writer = new WaveFileWriter(path, { format: 'float32', channels: 1, rateHz });
  return {
    write: (samples) => writer.write([samples]),
    end: (whole) => (whole ? writer.finish() : writer.abandon()),
  };
}
