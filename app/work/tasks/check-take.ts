import { checkSound } from '../../../core/guide/check-sound.ts';
import type { SoundCheck } from '../../../core/guide/sound-check.ts';
import type { TakeStudy } from '../../../core/noise/silence-finder.ts';
import type { FoldReason } from '../../../core/signal/fold.ts';
import type { TaskControl } from '../control.ts';
import { openSound } from '../sound-file.ts';
import { type StoredTrace, storedTrace } from '../trace-store.ts';

/** The trace of a take that was taken in. */
export interface TakeHeard {
  readonly tracePath: string;
  readonly trace: StoredTrace;
}

export interface CheckTakeRequest {
  readonly soundPath: string;
  readonly rateHz: number;
  readonly study: TakeStudy;
  /** What line-up heard; absent or null: its levels are heard once more. */
  readonly heard?: TakeHeard | null;
  readonly fold: FoldReason;
  /** Times at which the guide knocks while nobody plays, s of the take; empty without a guide. */
  readonly guideKnocksSec: readonly number[];
}

/** Listens to a trial take and says what to change. */
export async function checkTake(request: CheckTakeRequest, control: TaskControl): Promise<SoundCheck> {
  const sound = openSound(request.soundPath, request.rateHz);
  try {
    const { study, fold, guideKnocksSec, heard } = request;
    return checkSound(sound, {
      study,
      ...(heard == null ? {} : { levels: storedTrace(heard.tracePath, heard.trace).levels() }),
      fold,
      guideKnocksSec,
      cancel: control.cancel,
      onProgress: (share) => control.onProgress(share),
    });
  } finally {
    sound.close();
  }
}
