import type { IncomingMessage } from 'node:http';

/** A page that says nothing more for so long has broken off. */
const READ_WITHIN_MS = 30_000;

/** The body of a small message; 'too-large' when it passes mostBytes, 'cut-off' when the page breaks off or is too slow. */
export async function readBody(request: IncomingMessage, mostBytes: number): Promise<Buffer | 'too-large' | 'cut-off'> {
  if (Number(request.headers['content-length'] ?? 0) > mostBytes) return 'too-large';
  const pieces: Buffer[] = [];
  let size = 0;
  const timer = setTimeout(() => request.destroy(), READ_WITHIN_MS);
  try {
    for await (const piece of request.iterator({ destroyOnReturn: false })) {
      size += (piece as Buffer).length;
      if (size > mostBytes) return 'too-large';
      pieces.push(piece as Buffer);
    }
    return Buffer.concat(pieces);
  } catch {
    return 'cut-off';
  } finally {
    clearTimeout(timer);
  }
}

/** JSON in UTF-8; undefined when it is not that. */
export function parseJson(body: Buffer): { readonly value: unknown } | undefined {
  try {
    return { value: JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(body)) };
  } catch {
    return undefined;
  }
}

/** Whether the request says that its body is JSON, in UTF-8 where it says. A form or a beacon cannot say so unasked. */
export function isJson(request: IncomingMessage): boolean {
  return /^application\/json(\s*;\s*charset="?utf-8"?)?\s*$/i.test(request.headers['content-type'] ?? '');
}
