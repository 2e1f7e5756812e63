import { useEffect } from 'react';
import { useBench } from '../desk/bench-store.ts';
import { ask, useDesk } from '../desk/desk-store.ts';

/**
 * Names the page after the open session, lays out of the hand what belongs to another session, and asks anew for what the
 * start screen shows when a session has been closed.
 */
export function useSessionChange(): void {
  const title = useDesk((state) => state.view?.session.title ?? null);
  const folder = useDesk((state) => state.view?.folder ?? null);
  useEffect(() => {
    document.title = title === null ? 'Partsong' : `${title === '' ? 'Untitled' : title} – Partsong`;
  }, [title]);
  useEffect(() => {
    useBench.setState({ step: 'takes', takeId: null, voiceId: null, stretch: null, unfolded: [] });
    holdFocus();
    if (folder !== null || useDesk.getState().start === null) return;
    useDesk.setState({ faults: [] });
    void renewStart();
  }, [folder]);
}

/** What had the focus went with the screen before: the first thing of the new one has it, so that keys go on from there. */
function holdFocus(): void {
  requestAnimationFrame(() => {
    const { activeElement } = document;
    if (activeElement !== null && activeElement !== document.body) return;
    document.querySelector<HTMLElement>('.order-step[aria-current], .start button')?.focus({ preventScroll: true });
  });
}

async function renewStart(): Promise<void> {
  const start = await ask((bridge) => bridge.calls.begin({}));
  if (start !== undefined && useDesk.getState().view === null) useDesk.setState({ start, view: start.desk });
}
