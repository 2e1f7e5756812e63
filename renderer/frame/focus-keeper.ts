/** After a press the screen has so long to change, ms. */
const LOOK_AFTER_MS = 120;

/**
 * Keeps the place of who works by keyboard: where a press takes away or disables what had the focus, the nearest part of
 * the screen around it that is still there gets it, so that Tab goes on from there and not from the top. Returns how to end.
 */
export function keepFocus(page: Document): () => void {
  let last: { readonly element: Element; readonly around: readonly Element[] } | undefined;
  let timer: ReturnType<typeof setTimeout> | undefined;
  const remember = (event: Event): void => {
    if (event.target instanceof Element) last = { element: event.target, around: partsAround(event.target) };
  };
  const look = (): void => {
    if (last === undefined || (page.activeElement !== page.body && page.activeElement !== null)) return;
    const { element, around } = last;
    last = undefined;
    if (element.isConnected && !element.matches(':disabled')) return;
    const part = around.find((one): one is HTMLElement => one instanceof HTMLElement && one.isConnected);
    if (part === undefined) return;
    if (!part.hasAttribute('tabindex')) part.tabIndex = -1;
    part.focus({ preventScroll: true });
  };
  const lookSoon = (): void => {
    clearTimeout(timer);
    timer = setTimeout(look, LOOK_AFTER_MS);
  };
  page.addEventListener('focusin', remember);
  page.addEventListener('click', lookSoon);
  page.addEventListener('keydown', lookSoon);
  return () => {
    clearTimeout(timer);
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
