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
    timer = undefined;
    if (!isLost()) return;
    const { around, wasOnBench } = last!;
    last = undefined;
    // The parts of a bench are the nearest; the pane around them is all that is left when the bench itself has changed.
    const nearest = around.find((one): one is HTMLElement => one instanceof HTMLElement && one.isConnected);
    const part = wasOnBench && !nearest?.closest('.frame-bench') ? (theBench(page) ?? nearest) : nearest;
    toPart(part);
    // A row may have moved away; a larger part would jump.
    if (part?.matches('tr, li, fieldset')) part.scrollIntoView({ block: 'nearest' });
  };
  // Not put off by further changes: while a mix is measured the screen never rests.
  const lookSoon = (): void => {
    timer ??= setTimeout(look, LOOK_AFTER_MS);
  };
  const pressed = ({ key }: KeyboardEvent): void => {
    lookSoon();
    if (key === 'Enter' || key === ' ') setTimeout(() => showFocused(page), LOOK_AFTER_MS);
  };
  // A list that changes by itself, or a box that goes when its work is done, tells nothing else.
  const watch = new MutationObserver(() => {
    if (isLost()) lookSoon();
  });
  watch.observe(page.body, { childList: true, subtree: true, attributes: true, attributeFilter: ['disabled'] });
  page.addEventListener('focusin', remember);
  page.addEventListener('click', lookSoon);
  page.addEventListener('keydown', pressed);
  return () => {
    clearTimeout(timer);
    watch.disconnect();
    page.removeEventListener('focusin', remember);
    page.removeEventListener('click', lookSoon);
    page.removeEventListener('keydown', pressed);
  };
}

/** A press can move what it was made on, as a voice in the order of the score: it stays in sight. */
function showFocused({ activeElement }: Document): void {
  if (activeElement?.matches('button, input, select, a')) activeElement.scrollIntoView({ block: 'nearest' });
}

const PARTS = 'tr, li, fieldset, section, nav, main, header, aside';

/**
 * The parts of the screen around an element, the nearest first. A row, not what stands beside the element: whoever presses a
 * key once more than there is something to do must not set off something else.
 */
function partsAround(element: Element): Element[] {
  const parts: Element[] = [];
  let part = element.parentElement?.closest(PARTS);
  while (part) {
    parts.push(part);
    part = part.parentElement?.closest(PARTS);
  }
  return parts;
}
