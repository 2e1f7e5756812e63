const FIRST = 0.5;
const LEAST = 0.12;
const MOST = 0.88;
const STEP = 0.04;

/** A share of the height inside what is useful; one half where there is none. */
export function heldShare(share: number): number {
  return Number.isFinite(share) && share > 0 ? Math.max(LEAST, Math.min(MOST, share)) : FIRST;
}

/** The upper pane's share after a key on the divider; null for a key that does nothing there. */
export function shareAfterKey(share: number, key: string): number | null {
  switch (key) {
    case 'ArrowUp':
      return heldShare(share - STEP);
    case 'ArrowDown':
      return heldShare(share + STEP);
    case 'Home':
      return LEAST;
    case 'End':
      return MOST;
    case 'Enter':
      return FIRST;
    default:
      return null;
  }
}
