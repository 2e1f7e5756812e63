import { type RefObject, useEffect, useRef } from 'react';

/**
 * For what a piece of work made: when its stamp is another than before it is brought into view, and its heading gets the
 * focus unless that lies elsewhere than on the bench. The press for it was further below, and what made it is gone.
 */
export function useShownWhenNew(stamp: string | number | null): RefObject<HTMLDivElement | null> {
  const place = useRef<HTMLDivElement>(null);
  const known = useRef(stamp);
  useEffect(() => {
    if (stamp === null || stamp === known.current) return;
    known.current = stamp;
    if (place.current !== null) show(place.current);
  }, [stamp]);
  return place;
}

function show(place: HTMLElement): void {
  place.scrollIntoView({ block: 'start' });
  const { activeElement } = document;
  const isElsewhere =
    activeElement !== null && activeElement !== document.body && !activeElement.closest('.frame-bench');
  const heading = place.querySelector<HTMLElement>('h3');
  if (isElsewhere || heading === null) return;
  heading.tabIndex = -1;
  heading.focus({ preventScroll: true });
}
