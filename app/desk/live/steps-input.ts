import { heardTakes } from '../../../core/session/passages.ts';
import type { Session, Take } from '../../../core/session/schema.ts';
import type { BlendView, RenderView, StepName, StepState, TakeFacts } from '../../shell/contract/desk-view.ts';
import type { TrialView } from '../../shell/contract/guide-view.ts';
import type { IntonationView } from '../../shell/contract/intonation-view.ts';
import type { MadePictureView } from '../../shell/contract/picture-view.ts';

/** All that the states of the steps depend on. */
export interface StepsInput {
  readonly session: Session;
  readonly takes: Readonly<Record<string, TakeFacts>>;
  readonly guide: TakeFacts | null;
  readonly blend: BlendView | null;
  readonly render: RenderView | null;
  readonly madePicture: MadePictureView | null;
  /** Newest first. */
  readonly trials: readonly TrialView[];
  readonly intonation: IntonationView | null;
  readonly busy: Readonly<Record<StepName, boolean>>;
}

/** The state of a step, and its sentence. */
export type Told = readonly [StepState, string];

/** Takes that sound, voice by voice. */
export function sounding(session: Session): Take[] {
  return session.voices.flatMap((voice) => heardTakes(session, voice));
}

/** Takes that sound and whose sound is there, or will be. */
export function usable({ session, takes }: StepsInput): Take[] {
  return sounding(session).filter((take) => !isLost(takes[take.id]));
}

/** Whether nothing is to be had of a take's sound. */
export function isLost(facts: TakeFacts | undefined): boolean {
  return facts !== undefined && (facts.state === 'faulty' || (facts.state === 'missing' && facts.lengthSec === 0));
}
