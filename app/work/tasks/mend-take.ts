import { planNudges, type TakeMend } from '../../../core/pitch/mend.ts';
import { planMend } from '../../../core/pitch/mend-plan.ts';
import type { MendPlan } from '../../../core/pitch/mend-walk.ts';
import { MendedSound } from '../../../core/pitch/mended-sound.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { openSound } from '../sound-file.ts';
import { openOutput, type SoundForm } from '../sound-output.ts';

export interface MendTakeRequest {
  readonly soundPath: string;
  readonly rateHz: number;
  readonly mend: TakeMend;
  readonly form: SoundForm;
  readonly target: string;
}

/** How well a take was mended. Plain JSON. */
export interface MendTakeResult extends Omit<MendPlan, 'pieces' | 'rateHz'> {
  /** Most local stretch of its glides, 0.04 for 4 %. */
  readonly steepest: number;
  /** Nudges that are not made as they were wished, one sentence each. */
  readonly held: readonly string[];
}

const BLOCK_FRAMES = 16384;
/** Share of the work that is finding the plan. */
const PLAN_SHARE = 0.5;

/** Mends a take's pitch and time and writes it, as long as it was. */
export async function mendTake(request: MendTakeRequest, control: TaskControl): Promise<MendTakeResult> {
  const { mend, form, target } = request;
  const sound = openSound(request.soundPath, request.rateHz);
  try {
    const { pieces, rateHz, ...told } = planMend(sound, mend, {
      cancel: control.cancel,
      onProgress: (share) => control.onProgress(PLAN_SHARE * share),
    });
    const mended = new MendedSound(sound, { pieces, rateHz });
    const output = openOutput(target, form, rateHz);
    let whole = false;
    try {
      const buffer = new Float32Array(BLOCK_FRAMES);
      for (let from = 0; from < mended.lengthFrames; from += BLOCK_FRAMES) {
        throwIfCancelled(control.cancel);
        const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, mended.lengthFrames - from));
        mended.read(from, samples);
        output.write(samples);
        control.onProgress(PLAN_SHARE + (1 - PLAN_SHARE) * (from / mended.lengthFrames));
        await control.breathe();
      }
      whole = true;
    } finally {
      output.end(whole);
    }
    const { steepest, held } = planNudges(mend);
    return { ...told, steepest, held: held.map(({ sentence }) => sentence) };
  } finally {
    sound.close();
  }
}
