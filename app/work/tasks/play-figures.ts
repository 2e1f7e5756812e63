import {
  type HeardTake,
  type Played,
  type PlayedAgainst,
  playedFigures,
} from '../../../core/session/played-figures.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';

export interface PlayFiguresRequest {
  readonly takes: readonly HeardTake[];
  readonly against: PlayedAgainst;
}

/** How takes were played. Long pieces of many voices take seconds, which no page may wait for. */
export async function playFigures({ takes, against }: PlayFiguresRequest, control: TaskControl): Promise<Played[]> {
  throwIfCancelled(control.cancel);
  const figures = playedFigures(takes, against, control.cancel);
  control.onProgress(1);
  return figures;
}
