const MARGIN = 8;

/** Where a box of a size goes beside an anchor, so that it lies inside the window: below it, or above where below is no room. */
export function placeBeside(
  anchor: { readonly left: number; readonly top: number; readonly bottom: number },
  box: { readonly width: number; readonly height: number },
  window: { readonly width: number; readonly height: number },
): { readonly left: number; readonly top: number } {
  const left = Math.max(MARGIN, Math.min(anchor.left, window.width - box.width - MARGIN));
  const below = anchor.bottom + 6;
  const fitsBelow = below + box.height + MARGIN <= window.height;
  const above = anchor.top - 6 - box.height;
  const top =
    fitsBelow || above < MARGIN ? Math.min(below, Math.max(MARGIN, window.height - box.height - MARGIN)) : above;
  return { left, top };
}

/** Puts an open popover beside what opened it. */
export function beside(box: HTMLElement, anchor: HTMLElement): void {
  box.style.left = '0';
  box.style.top = '0';
  const { left, top } = placeBeside(anchor.getBoundingClientRect(), box.getBoundingClientRect(), {
    width: document.documentElement.clientWidth,
    height: document.documentElement.clientHeight,
  });
  box.style.left = `${left}px`;
  box.style.top = `${top}px`;
}
