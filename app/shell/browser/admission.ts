import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';
import type { IncomingHttpHeaders } from 'node:http';

const SECRET_BYTES = 32;

/**
 * Who may come in. The opened address carries a one-time token in its fragment, which no request holds; the page hands it
 * in once and gets a cookie for it, which script cannot read. Another page, another site or another program of the
 * computer has neither.
 */
export class Admission {
  readonly token = randomBytes(SECRET_BYTES).toString('base64url');
  readonly #host: string;
  readonly #cookieName: string;
  readonly #pass = randomBytes(SECRET_BYTES).toString('base64url');
  #isUsed = false;

  constructor(port: number) {
    this.#host = `127.0.0.1:${port}`;
    // Cookies do not tell ports apart, so that two desks at once need two names.
    this.#cookieName = `partsong-${port}`;
  }

  get origin(): string {
    return `http://${this.#host}`;
  }

  /** False for a name that someone has made point here, against which the same-origin rule does not help. */
  isOurHost(headers: IncomingHttpHeaders): boolean {
    return headers.host === this.#host;
  }

  /**
   * Whether the request comes from our own page, as far as the browser says. Reading may go without an origin, as a first
   * visit does; writing may not.
   */
  isOurOrigin(headers: IncomingHttpHeaders, isWrite: boolean): boolean {
    const site = headers['sec-fetch-site'];
    if (site !== undefined && site !== 'same-origin' && (isWrite || site !== 'none')) return false;
    if (headers.origin === undefined) return !isWrite;
    return headers.origin === this.origin;
  }

  /** The Set-Cookie line for the token, which is used up by it; undefined when it is wrong or used up. */
  enter(token: string): string | undefined {
    if (this.#isUsed || !isSame(token, this.token)) return undefined;
    this.#isUsed = true;
    return `${this.#cookieName}=${this.#pass}; HttpOnly; SameSite=Strict; Path=/`;
  }

  isAdmitted(headers: IncomingHttpHeaders): boolean {
    const pairs = (headers.cookie ?? '').split(';').map((pair) => pair.trim());
    const own = pairs.filter((pair) => pair.startsWith(`${this.#cookieName}=`));
    return own.some((pair) => isSame(pair.slice(this.#cookieName.length + 1), this.#pass));
  }
}

function isSame(given: string, wanted: string): boolean {
  return timingSafeEqual(digest(given), digest(wanted));
}

function digest(text: string): Buffer {
  return createHash('sha256').update(text).digest();
}
