import { create } from 'zustand';
import type { SpanView, StepName } from '../../app/shell/contract/desk-view.ts';

/** What the user has in hand: not part of the document, shared by lanes, benches and playback. */
export interface BenchState {
  /** The step whose bench lies below the lanes. */
  readonly step: StepName;
  /** The take that benches speak of. */
  readonly takeId: string | null;
  readonly voiceId: string | null;
  /** A stretch selected in a lane, session time; `takeId` null when selected on the guide line. */
  readonly stretch: (SpanView & { readonly takeId: string | null }) | null;
  /** Voices whose takes are unfolded below their lane. */
  readonly unfolded: readonly string[];
  readonly theme: 'day' | 'night' | 'system';
  readonly helpOpen: boolean;
}

export const useBench = create<BenchState>(() => ({
  step: 'takes',
  takeId: null,
  voiceId: null,
  stretch: null,
  unfolded: [],
  theme: 'system',
  helpOpen: false,
}));

/** Brings a voice and one of its takes to hand. */
export function takeInHand(voiceId: string, takeId: string | null): void {
  useBench.setState({ voiceId, takeId });
}

/** Unfolds the takes of a voice below its lane, or folds them. */
export function foldTakes(voiceId: string): void {
  useBench.setState(({ unfolded }) => ({
    unfolded: unfolded.includes(voiceId) ? unfolded.filter((one) => one !== voiceId) : [...unfolded, voiceId],
  }));
}
