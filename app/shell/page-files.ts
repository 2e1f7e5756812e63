import { readdirSync, readFileSync } from 'node:fs';
import { extname, join } from 'node:path';
import { doorFault } from './door-fault.ts';
import { type Reply, refusal } from './door-reply.ts';

/** The built page, held in memory: only what was found at the start can be asked for, and a build meanwhile hurts nobody. */
export class PageFiles {
  readonly #files = new Map<string, { readonly type: string; readonly bytes: Uint8Array }>();

  /** folder: such as out/renderer. Throws when it has no index.html. */
  constructor(folder: string) {
    for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
      const type = TYPES[extname(entry.name)];
      if (!entry.isFile() || type === undefined) continue;
      const path = join(entry.parentPath, entry.name);
      const name = path
        .slice(folder.length)
        .split(/[/\\]/)
        .filter((part) => part !== '')
        .join('/');
      this.#files.set(name, { type, bytes: readFileSync(path) });
    }
    if (!this.#files.has('index.html')) throw new Error(`${folder} holds no page; run "npm run build"`);
  }

  /** segments: of a target that was parsed; none for the page itself. */
  reply(segments: readonly string[]): Reply {
    const file = this.#files.get(segments.length === 0 ? 'index.html' : segments.join('/'));
    if (file === undefined) return refusal(404, notThere);
    return {
      status: 200,
      headers: { 'content-type': file.type, 'content-length': String(file.bytes.length) },
      body: file.bytes,
    };
  }
}

const notThere = doorFault('not-found', 'There is nothing at this address.', 'Go back to the desk.');

/** Kinds of files that belong to a page; others in the folder are not served. */
const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.json': 'application/json',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.webp': 'image/webp',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
  '.wasm': 'application/wasm',
};
