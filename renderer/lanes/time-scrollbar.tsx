import { useEffect, useRef } from 'react';
import type { Scene } from './lane-scene.ts';
import type { LanesStage } from './lanes-stage.ts';
import { nowAndThen } from './now-and-then.ts';
import { leftFrameOfScrollbar, scrollbarOf } from './time-view.ts';

/** The bar follows the view so often, and not at all for a while after it was moved by hand. */
const SHOWN_EVERY_MS = 50;
const HELD_MS = 200;

/** A native scrollbar for the time line; its box is at most a million pixels wide inside and maps to the time by share. */
export function TimeScrollbar({ stage, scene }: { readonly stage: LanesStage; readonly scene: Scene }) {
  const outer = useRef<HTMLElement>(null);
  const inner = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const box = outer.current;
    const inside = inner.current;
    if (box === null || inside === null) return undefined;
    let setTo = -1;
    let widthPx = -1;
    let byHandMs = Number.NEGATIVE_INFINITY;
    const show = nowAndThen(() => {
      // While it is dragged it is not set: that would take it out of the hand.
      if (performance.now() - byHandMs < HELD_MS) {
        show.wish();
        return;
      }
      const view = stage.getView();
      if (view.widthPx <= 0) return;
      const bar = scrollbarOf(view, scene.extent);
      if (bar.insidePx !== widthPx) inside.style.width = `${bar.insidePx}px`;
      widthPx = bar.insidePx;
      setTo = Math.round(bar.leftPx);
      box.scrollLeft = setTo;
    }, SHOWN_EVERY_MS);
    const scrolled = (): void => {
      // What was set from the view comes back as an event, rounded: only a move by hand counts.
      if (Math.abs(box.scrollLeft - setTo) <= 1) return;
      setTo = box.scrollLeft;
      byHandMs = performance.now();
      const view = stage.getView();
      stage.setView({ ...view, leftFrame: leftFrameOfScrollbar(view, scene.extent, setTo, widthPx) });
    };
    box.addEventListener('scroll', scrolled, { passive: true });
    const stop = stage.onView(show.wish);
    return () => {
      stop();
      show.stop();
      box.removeEventListener('scroll', scrolled);
    };
  }, [stage, scene]);
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a box that scrolls must be reachable by keyboard.
    <section className="lanes-time-scroll" ref={outer} tabIndex={0} aria-label="Scroll the time line">
      <div ref={inner} />
    </section>
  );
}
