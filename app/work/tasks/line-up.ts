import { placeTakes } from '../../../core/lineup/lineup.ts';
import type { Placement } from '../../../core/lineup/witness.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { type OpenSound, openSound } from '../sound-file.ts';
import { loadTrace, type StoredTrace } from '../trace-store.ts';

export interface PlacedInput {
  readonly soundPath: string;
  readonly rateHz: number;
  readonly tracePath: string;
  readonly trace: StoredTrace;
}

export interface LineUpRequest {
  readonly takes: readonly (PlacedInput & { readonly id: string })[];
  readonly guide: Pick<PlacedInput, 'soundPath' | 'rateHz'> | undefined;
}

/** Placements in the order of the takes. */
export interface LineUpResult {
  readonly placements: readonly Placement[];
}

/** Finds where takes lie, from their cached sounds and traces. */
export async function lineUp(request: LineUpRequest, control: TaskControl): Promise<LineUpResult> {
  const open: OpenSound[] = [];
  const soundOf = (path: string, rateHz: number): OpenSound => {
    const sound = openSound(path, rateHz);
    open.push(sound);
    return sound;
  };
  try {
    const takes = request.takes.map(({ id, soundPath, rateHz, tracePath, trace }) => ({
      id,
      sound: soundOf(soundPath, rateHz),
      trace: loadTrace(tracePath, trace),
    }));
    const guide = request.guide === undefined ? undefined : soundOf(request.guide.soundPath, request.guide.rateHz);
    const placements = placeTakes(takes, guide, {
      cancel: control.cancel,
      onProgress: (share) => control.onProgress(share),
    });
    throwIfCancelled(control.cancel);
    return { placements: takes.map(({ id }) => placements.get(id)!) };
  } finally {
    for (const sound of open) sound.close();
  }
}
