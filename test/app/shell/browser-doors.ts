import { mkdtempSync, rmSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach } from 'vitest';
import {
  type BrowserDoor,
  type BrowserDoorOptions,
  startBrowserDoor,
} from '../../../app/shell/browser/browser-door.ts';
import { BrowserPage, smallPage } from './browser-page.ts';
import { SmallHost } from './small-host.ts';

/** Doors of a test file over hosts of their own; each is closed after its test. */
export class BrowserDoors {
  readonly #pageFolder = smallPage();
  readonly #open: BrowserDoor[] = [];
  readonly #folders = [this.#pageFolder];

  constructor() {
    afterEach(async () => {
      await Promise.all(this.#open.splice(0).map((door) => door.close()));
    });
    afterAll(() => {
      for (const folder of this.#folders) rmSync(folder, { recursive: true, force: true });
    });
  }

  /** A door that nobody has come through yet. */
  async start(options: Partial<BrowserDoorOptions> = {}): Promise<{ host: SmallHost; door: BrowserDoor }> {
    const host = new SmallHost();
    const door = await startBrowserDoor({ host, pageFolder: this.#pageFolder, lingerMs: null, ...options });
    this.#open.push(door);
    return { host, door };
  }

  /** A door with a page that has come through it. */
  async begin(options: Partial<BrowserDoorOptions> = {}) {
    const { host, door } = await this.start(options);
    return { host, door, page: await BrowserPage.open(door.url) };
  }

  /** A folder for a session's clips. */
  sessionFolder(): string {
    const folder = mkdtempSync(join(tmpdir(), 'partsong-session-'));
    this.#folders.push(folder);
    return folder;
  }
}

/** What comes back for some bytes sent as they are. */
export function rawText(origin: string, sent: string): Promise<string> {
  return new Promise((resolve, reject) => {
    const socket = connect(Number(new URL(origin).port), '127.0.0.1', () => socket.write(sent));
    let text = '';
    socket.setTimeout(1000, () => socket.destroy());
    socket.on('data', (piece) => {
      text += piece;
      socket.destroy();
    });
    socket.on('error', reject);
    socket.on('close', () => resolve(text));
  });
}

/** The answer to a request whose body never comes. */
export function rawHead(page: BrowserPage, line: string, length: string): Promise<string> {
  const headers = { ...page.headers, host: new URL(page.origin).host, 'content-length': length };
  const lines = Object.entries(headers).map(([name, value]) => `${name}: ${value}\r\n`);
  return rawText(page.origin, `${line} HTTP/1.1\r\n${lines.join('')}\r\n`);
}
