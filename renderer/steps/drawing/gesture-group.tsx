import { type ReactNode, useRef } from 'react';
import { nextGesture } from './gesture.ts';

interface GestureGroupProps {
  readonly className?: string;
  /** Draws the controls; `key` names what is done with them in one go. */
  readonly children: (key: (name: string) => string) => ReactNode;
}

/** Controls whose moves are merged into one step of undo for as long as one is held or has the focus. */
export function GestureGroup({ className, children }: GestureGroupProps) {
  const gesture = useRef(0);
  const begin = (): void => {
    gesture.current = nextGesture();
  };
  return (
    <div className={className} onPointerDownCapture={begin} onFocusCapture={begin}>
      {children((name) => `${name}:${gesture.current}`)}
    </div>
  );
}
