import type { FaultView } from './contract/desk-view.ts';

/** An answer to a request, before a door gives it the form of its own world. */
export interface Reply {
  readonly status: number;
  readonly headers: Readonly<Record<string, string>>;
  /** Null where there is none, as after HEAD; the headers are the same then. */
  readonly body: Uint8Array | AsyncIterable<Uint8Array> | null;
}

/**
 * The page may run only its own files, talk only to its own door, and be shown in no frame. 'wasm-unsafe-eval' lets the
 * worklet compile the kernels of core, which come with the page's own files; it lets no text become script.
 */
export const PAGE_POLICY = [
  "default-src 'none'",
  "script-src 'self' 'wasm-unsafe-eval'",
  "style-src 'self'",
  "img-src 'self' data: blob:",
  "font-src 'self'",
  "connect-src 'self'",
  "media-src 'self' blob:",
  "worker-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');

/** Goes with every answer of both doors. COOP and COEP give the page shared memory and a fine clock. */
export const SAFE_HEADERS: Readonly<Record<string, string>> = {
  'content-security-policy': PAGE_POLICY,
  'cross-origin-opener-policy': 'same-origin',
  'cross-origin-embedder-policy': 'require-corp',
  'cross-origin-resource-policy': 'same-origin',
  'x-content-type-options': 'nosniff',
  'referrer-policy': 'no-referrer',
  'permissions-policy': 'camera=(), microphone=(), geolocation=(), display-capture=(), speaker-selection=(self)',
  'cache-control': 'no-store',
};

/** A reply of a value as JSON. */
export function jsonReply(status: number, value: unknown, headers: Readonly<Record<string, string>> = {}): Reply {
  const body = Buffer.from(JSON.stringify(value));
  return {
    status,
    headers: { 'content-type': 'application/json', 'content-length': String(body.length), ...headers },
    body,
  };
}

/** A refusal, in the form in which faults cross a door. */
export function refusal(status: number, fault: FaultView, headers: Readonly<Record<string, string>> = {}): Reply {
  return jsonReply(status, { ok: false, fault }, headers);
}

/** The same reply with its body left out when only the headers were asked for. */
export function forMethod(reply: Reply, method: string): Reply {
  return method === 'HEAD' ? { ...reply, body: null } : reply;
}
