import { renameSync, rmSync } from 'node:fs';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { partOf } from '../part-path.ts';
import type { Peaks } from '../peaks.ts';
import { openSound } from '../sound-file.ts';
import { type StoredTrace, TraceWriter } from '../trace-store.ts';
import { refuseUnusable, Study, type TakeInResult } from './take-in.ts';

export interface CutPartRequest {
  /** The clip, for sentences. */
  readonly file: string;
  /** The sound of the clip as it was taken in. */
  readonly clipSoundPath: string;
  readonly rateHz: number;
  /** The part, frames of the clip. */
  readonly fromFrame: number;
  readonly toFrame: number;
  /** Where the part's sound goes; it takes this name when it is whole. */
  readonly soundPath: string;
  readonly tracePath: string;
}

/** What is another for a part than for its clip. */
export interface CutPartResult extends Pick<TakeInResult, 'lengthFrames' | 'study'> {
  readonly peaks: Peaks | null;
  readonly trace: StoredTrace;
}

const READ_FRAMES = 16384;

/** Cuts a part out of a clip's sound, to the frame, and learns on the way what taking in a clip of its own would have told. */
export async function cutPart(request: CutPartRequest, control: TaskControl): Promise<CutPartResult> {
  const { file, rateHz, fromFrame, toFrame } = request;
  const part = partOf(request.soundPath);
  const sound = openSound(request.clipSoundPath, rateHz);
  const trace = new TraceWriter(request.tracePath, rateHz);
  try {
    const study = new Study(rateHz, part, trace.listener);
    try {
      const buffer = new Float32Array(READ_FRAMES);
      for (let from = fromFrame; from < toFrame; from += buffer.length) {
        throwIfCancelled(control.cancel);
        const samples = buffer.subarray(0, Math.min(buffer.length, toFrame - from));
        sound.read(from, samples);
        study.add(samples);
        control.onProgress((from - fromFrame) / (toFrame - fromFrame));
        await control.breathe();
      }
    } finally {
      study.close();
    }
    const found = study.finder.study();
    refuseUnusable(`This part of ${file}`, found.peak, study.peaks.isFinite, (toFrame - fromFrame) / rateHz);
    renameSync(part, request.soundPath);
    return {
      lengthFrames: toFrame - fromFrame,
      study: found,
      peaks: study.peaks.result(),
      trace: trace.finish(),
    };
  } finally {
    sound.close();
    trace.close();
    rmSync(part, { force: true });
  }
}
