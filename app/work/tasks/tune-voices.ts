import {
  type TrackedVoice,
  type TuneAgainst,
  type TuneFindings,
  tuneFindings,
} from '../../../core/session/tune-report.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import type { TaskControl } from '../control.ts';

export interface TuneVoicesRequest {
  readonly voices: readonly TrackedVoice[];
  readonly against: TuneAgainst;
}

/** Holds voices against a score, or the keys, and against each other. Twelve voices of 10 min take seconds, which no page may wait for. */
export async function tuneVoices({ voices, against }: TuneVoicesRequest, control: TaskControl): Promise<TuneFindings> {
  throwIfCancelled(control.cancel);
  const findings = tuneFindings(voices, against, control.cancel);
  control.onProgress(1);
  return findings;
}
