import type { GuideMarks } from '../../../core/lineup/guide-map.ts';
import { placeTakes } from '../../../core/lineup/lineup.ts';
import type { Placement } from '../../../core/lineup/witness.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';
import { type OpenSound, openSound } from '../sound-file.ts';
import { type StoredTrace, storedTrace } from '../trace-store.ts';

export interface PlacedInput {
  readonly soundPath: string;
  readonly rateHz: number;
  readonly tracePath: string;
  readonly trace: StoredTrace;
}

export interface LineUpRequest {
  readonly takes: readonly (PlacedInput & { readonly id: string })[];
  readonly guide: PlacedInput | undefined;
  /** What is known of the guide beforehand. */
  readonly guideMarks?: GuideMarks;
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
      trace: storedTrace(tracePath, trace),
    }));
    const { guide, guideMarks } = request;
    const placements = placeTakes(takes, guide === undefined ? undefined : soundOf(guide.soundPath, guide.rateHz), {
      cancel: control.cancel,
      onProgress: (share) => control.onProgress(share),
      ...(guide === undefined ? {} : { guideTrace: storedTrace(guide.tracePath, guide.trace) }),
      ...(guideMarks === undefined ? {} : { guideMarks }),
    });
    throwIfCancelled(control.cancel);
    return { placements: takes.map(({ id }) => placements.get(id)!) };
  } finally {
    for (const sound of open) sound.close();
  }
}
