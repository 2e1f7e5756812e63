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
      onThere: () => location.reload(),
      onState: setState,
    });
    again.current = looking;
    const seen = (): void => {
      if (document.visibilityState === 'visible') looking.now();
    };
    document.addEventListener('visibilitychange', seen);
    return () => {
      document.removeEventListener('visibilitychange', seen);
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
            onClick={() => (state?.kind === 'waiting' ? again.current?.now() : location.reload())}
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
    case 'ended':
      return (
        <span role="status">
          Tried {times(state.looks)} without an answer, and no more by itself. Start Partsong again and open the
          session.
        </span>
      );
  }
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
