/**
 * Settings of this page, kept across runs. The browser's own store tells ports apart, and the desk has another port at
 * each start; a cookie does not, so a setting goes into both. In the window, where there are no cookies, the store serves.
 */

const YEAR_SEC = 365 * 24 * 3600;

/** A setting of this page kept across runs; null where there is none or the browser keeps nothing. */
export function kept(key: string): string | null {
  return storedIn(key) ?? (typeof document === 'undefined' ? null : settingIn(document.cookie, key));
}

/** Keeps a setting of this page; a browser that refuses only forgets it. value: short, some hundred characters at most. */
export function keep(key: string, value: string): void {
  try {
    localStorage.setItem(`partsong.${key}`, value);
    // biome-ignore lint/suspicious/noDocumentCookie: the store of cookies that answers later is not in every browser.
    document.cookie = `partsong.${key}=${encodeURIComponent(value)}; SameSite=Strict; Path=/; Max-Age=${YEAR_SEC}`;
  } catch {
    // A private window: the setting lasts as long as the page.
  }
}

/** A setting among the cookies of a page; null where it is not there or not whole. */
export function settingIn(cookies: string, key: string): string | null {
  const name = `partsong.${key}=`;
  const pair = cookies.split('; ').find((one) => one.startsWith(name));
  try {
    return pair === undefined ? null : decodeURIComponent(pair.slice(name.length));
  } catch {
    return null;
  }
}

function storedIn(key: string): string | null {
  try {
    return localStorage.getItem(`partsong.${key}`);
  } catch {
    return null;
  }
}
