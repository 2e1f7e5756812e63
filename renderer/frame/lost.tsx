import { useEffect, useRef, useState } from 'react';
import { LookAgain, type LookState } from '../bridge/look-again.ts';
import { theBridge } from '../desk/desk-store.ts';
import { Button } from '../parts/button.tsx';
import { Note } from '../parts/note.tsx';

/**
 * The desk went away: nothing on the page can be done any more, and this says so above all. It looks for the desk by itself, and
 * the page begins anew when it is there again.
 */
export function Lost() {
  const [state, setState] = useState<LookState | null>(null);
  const again = useRef<LookAgain | null>(null);
  useEffect(() => {
    const looking = new LookAgain({
      look: () => theBridge().isThere(),
      isSeen,
      onThere: () => location.reload(),
      onState: setState,
    });
    again.current = looking;
    const seen = (): void => {
      if (isSeen()) looking.now();
    };
    // After a sleep the network comes back too, and tells it where the page was in sight all the while.
    const online = (): void => looking.now();
    document.addEventListener('visibilitychange', seen);
    addEventListener('online', online);
    return () => {
      document.removeEventListener('visibilitychange', seen);
      removeEventListener('online', online);
      looking.stop();
    };
  }, []);
  return (
    <div className="frame-lost">
      <Note
        kind="wrong"
        title={<span role="alert">The connection to Partsong is lost.</span>}
        actions={
          <Button
            disabled={state?.kind === 'looking'}
            onClick={() => (state?.kind === 'stranger' ? location.reload() : again.current?.now())}
          >
            Try again
          </Button>
        }
      >
        It was closed, or it stopped. Your session is saved up to your last change. {state && <Looking state={state} />}
      </Note>
    </div>
  );
}

function Looking({ state }: { readonly state: LookState }) {
  const leftSec = useSecondsTo(state.kind === 'waiting' ? state.nextAtMs : null);
  switch (state.kind) {
    case 'waiting':
      return (
        <>
          Start Partsong again. {state.looks === 0 ? 'This page tries by itself' : `Tried ${times(state.looks)}`}; next
          in {leftSec} s.
        </>
      );
    case 'looking':
      return 'Trying …';
    case 'there':
      return <span role="status">It is there again; the page begins anew.</span>;
    case 'stranger':
      return (
        <span role="status">
          It was started again, and this page belongs to the one before: open the new address, which it told when it
          started.
        </span>
      );
    case 'resting':
      return `Start Partsong again. Tried ${times(state.looks)}; tries again when you look at this page.`;
  }
}

function isSeen(): boolean {
  return document.visibilityState === 'visible';
}

function times(count: number): string {
  return count === 1 ? 'once' : `${count} times`;
}

/** Whole seconds until a moment of Date.now, counted down while it is shown. */
function useSecondsTo(atMs: number | null): number {
  const [nowMs, setNowMs] = useState(() => Date.now());
  useEffect(() => {
    if (atMs === null) return;
    setNowMs(Date.now());
    const ticking = setInterval(() => setNowMs(Date.now()), 500);
    return () => clearInterval(ticking);
  }, [atMs]);
  return atMs === null ? 0 : Math.max(0, Math.ceil((atMs - nowMs) / 1000));
}
