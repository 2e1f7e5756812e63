import { type KeyboardEvent, type PointerEvent, type ReactNode, useRef, useState } from 'react';
import { keep, kept } from '../parts/kept.ts';
import { heldShare, shareAfterKey } from './split-share.ts';

const KEY = 'lanes-share';

/** Two panes one above the other with a movable divider; the share of the upper one is remembered. */
export function SplitPanes({ upper, lower }: { upper: ReactNode; lower: ReactNode }) {
  const [share, setShare] = useState(() => heldShare(Number(kept(KEY) ?? Number.NaN)));
  const panes = useRef<HTMLDivElement>(null);
  const move = (next: number): void => {
    setShare(next);
    keep(KEY, next.toFixed(3));
  };
  const onPointerMove = (event: PointerEvent): void => {
    if (!(event.target as Element).hasPointerCapture(event.pointerId) || panes.current === null) return;
    const box = panes.current.getBoundingClientRect();
    move(heldShare((event.clientY - box.top) / box.height));
  };
  const onKeyDown = (event: KeyboardEvent): void => {
    const next = shareAfterKey(share, event.key);
    if (next === null) return;
    event.preventDefault();
    move(next);
  };
  return (
    <div
      className="split"
      ref={panes}
      style={{ gridTemplateRows: `minmax(0, ${share}fr) auto minmax(0, ${1 - share}fr)` }}
    >
      <div className="split-pane">{upper}</div>
      {/* biome-ignore lint/a11y/useSemanticElements: a separator that moves has no element of its own */}
      <div
        className="split-divider"
        role="separator"
        tabIndex={0}
        aria-orientation="horizontal"
        aria-label="Height of the lanes"
        aria-valuenow={Math.round(100 * share)}
        aria-valuemin={0}
        aria-valuemax={100}
        aria-valuetext={`Lanes ${Math.round(100 * share)} %`}
        title="Drag to give the lanes or the bench more room. Keys: up, down; Enter gives half to each."
        onKeyDown={onKeyDown}
        onPointerDown={(event) => event.currentTarget.setPointerCapture(event.pointerId)}
        onPointerMove={onPointerMove}
        onDoubleClick={() => move(heldShare(Number.NaN))}
      >
        <span className="split-grip" />
      </div>
      <div className="split-pane split-lower">{lower}</div>
    </div>
  );
}
