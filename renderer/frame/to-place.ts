/** The bench of the step at hand. */
export function theBench(page: Document): HTMLElement | undefined {
  return page.querySelector<HTMLElement>('.frame-bench') ?? undefined;
}

/** Gives the bench the focus, so that Tab goes on into it; it is the same bench only until the step changes. */
export function toBench(): void {
  toPart(theBench(document));
}

/** Gives the focus to the lane that the tab key would reach. */
export function toLanes(): void {
  toPart(document.querySelector<HTMLElement>('.lanes-row[tabindex="0"]') ?? undefined);
}

/** Gives the focus to the running order, at the step at hand. */
export function toOrder(): void {
  toPart(document.querySelector<HTMLElement>('.order-step[aria-current]') ?? undefined);
}

/** Gives a part of the screen the focus, from where Tab goes on into it. */
export function toPart(part: HTMLElement | undefined): void {
  if (part === undefined) return;
  if (part.tabIndex < 0 && !part.hasAttribute('tabindex')) part.tabIndex = -1;
  part.focus({ preventScroll: true });
}
