/** A setting of this page kept across runs; null where there is none or the browser keeps nothing. */
export function kept(key: string): string | null {
  try {
    return localStorage.getItem(`partsong.${key}`);
  } catch {
    return null;
  }
}

/** Keeps a setting of this page; a browser that refuses only forgets it. */
export function keep(key: string, value: string): void {
  try {
    localStorage.setItem(`partsong.${key}`, value);
  } catch {
    // A private window: the setting lasts as long as the page.
  }
}
