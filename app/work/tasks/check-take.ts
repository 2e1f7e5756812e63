import { checkSound } from '../../../core/guide/check-sound.ts';
import type { SoundCheck } from '../../../core/guide/sound-check.ts';
import type { TakeStudy } from '../../../core/noise/silence-finder.ts';
import type { FoldReason } from '../../../core/signal/fold.ts';
import type { TaskControl } from '../control.ts';
import { openSound } from '../sound-file.ts';

export interface CheckTakeRequest {
  readonly soundPath: string;
  readonly rateHz: number;
  readonly study: TakeStudy;
  readonly fold: FoldReason;
  /** Times at which the guide knocks while nobody plays, s of the take; empty without a guide. */
  readonly guideKnocksSec: readonly number[];
}

/** Listens to a trial take and says what to change. */
export async function checkTake(request: CheckTakeRequest, control: TaskControl): Promise<SoundCheck> {
  const sound = openSound(request.soundPath, request.rateHz);
  try {
    const { study, fold, guideKnocksSec } = request;
    return checkSound(sound, {
      study,
      fold,
      guideKnocksSec,
      cancel: control.cancel,
      onProgress: (share) => control.onProgress(share),
    });
  } finally {
    sound.close();
  }
}
