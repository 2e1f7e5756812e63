import { theBench, toPart } from './to-place.ts';

/** After a press, or a change of the screen, the screen has so long to settle, ms. */
const LOOK_AFTER_MS = 120;

interface Focused {
  readonly element: Element;
  readonly around: readonly Element[];
  readonly wasOnBench: boolean;
}

/**
 * Keeps the place of who works by keyboard: where what had the focus goes or is disabled, by a press or because a piece of
 * work is done, the nearest part of the screen around it that is still there gets it, so that Tab goes on from there and
 * not from the top. What was on a bench that gave way to another one goes on there. Returns how to end.
 */
export function keepFocus(page: Document): () => void {
  let last: Focused | undefined;
  let timer: ReturnType<typeof setTimeout> | undefined;
  const remember = (event: Event): void => {
    if (!(event.target instanceof Element)) return;
    const element = event.target;
    last = { element, around: partsAround(element), wasOnBench: element.closest('.frame-bench') !== null };
  };
  const isLost = (): boolean => {
    if (last === undefined || (page.activeElement !== page.body && page.activeElement !== null)) return false;
    return !last.element.isConnected || last.element.matches(':disabled');
  };
  const look = (): void => {
    if (!isLost()) return;
    const { around, wasOnBench } = last!;
    last = undefined;
    // The parts of a bench are the nearest; the pane around them is all that is left when the bench itself has changed.
    const nearest = around.find((one): one is HTMLElement => one instanceof HTMLElement && one.isConnected);
    const part = wasOnBench && !nearest?.closest('.frame-bench') ? (theBench(page) ?? nearest) : nearest;
    toPart(part);
  };
  const lookSoon = (): void => {
    clearTimeout(timer);
    timer = setTimeout(look, LOOK_AFTER_MS);
  };
  // A list that changes by itself, or a box that goes when its work is done, tells nothing else.
  const watch = new MutationObserver(() => {
    if (isLost()) lookSoon();
  });
  watch.observe(page.body, { childList: true, subtree: true, attributes: true, attributeFilter: ['disabled'] });
  page.addEventListener('focusin', remember);
  page.addEventListener('click', lookSoon);
  page.addEventListener('keydown', lookSoon);
  return () => {
    clearTimeout(timer);
    watch.disconnect();
    page.removeEventListener('focusin', remember);
    page.removeEventListener('click', lookSoon);
    page.removeEventListener('keydown', lookSoon);
  };
}

/** The named parts of the screen around an element, the nearest first. */
function partsAround(element: Element): Element[] {
  const parts: Element[] = [];
  let part = element.parentElement?.closest('section, nav, main, header, aside');
  while (part) {
    parts.push(part);
    part = part.parentElement?.closest('section, nav, main, header, aside');
  }
  return parts;
}
