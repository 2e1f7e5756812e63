import { useEffect } from 'react';
import { useBench } from '../desk/bench-store.ts';
import { useDesk } from '../desk/desk-store.ts';

/** Names the page after the open session, and lays out of the hand what belongs to another session. */
export function useSessionChange(): void {
  const title = useDesk((state) => state.view?.session.title ?? null);
  const folder = useDesk((state) => state.view?.folder ?? null);
  useEffect(() => {
    document.title = title === null ? 'Partsong' : `${title === '' ? 'Untitled' : title} – Partsong`;
  }, [title]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: it is the change of the folder that counts
  useEffect(() => {
    useBench.setState({ step: 'takes', takeId: null, voiceId: null, stretch: null, unfolded: [] });
  }, [folder]);
}
