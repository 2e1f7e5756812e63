import { useEffect, useRef } from 'react';
import type { Scene } from './lane-scene.ts';
import type { LanesStage } from './lanes-stage.ts';
import { leftFrameOfScrollbar, scrollbarOf } from './time-view.ts';

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
    let frame = 0;
    const show = (): void => {
      frame = 0;
      const view = stage.getView();
      if (view.widthPx <= 0) return;
      const bar = scrollbarOf(view, scene.extent);
      if (bar.insidePx !== widthPx) inside.style.width = `${bar.insidePx}px`;
      widthPx = bar.insidePx;
      setTo = Math.round(bar.leftPx);
      box.scrollLeft = setTo;
    };
    const scrolled = (): void => {
      // What was set from the view comes back as an event, rounded: only a move by hand counts.
      if (Math.abs(box.scrollLeft - setTo) <= 1) return;
      setTo = box.scrollLeft;
      const view = stage.getView();
      stage.setView({ ...view, leftFrame: leftFrameOfScrollbar(view, scene.extent, setTo, widthPx) });
    };
    box.addEventListener('scroll', scrolled, { passive: true });
    const stop = stage.onView(() => {
      if (frame === 0) frame = requestAnimationFrame(show);
    });
    return () => {
      stop();
      cancelAnimationFrame(frame);
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
