import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { DoorAnswer } from '../../../app/shell/contract/bridge.ts';
import type { DeskEvent } from '../../../app/shell/contract/events.ts';

/** A folder with a page of two files, and one that is none of a page. */
export function smallPage(): string {
  const folder = mkdtempSync(join(tmpdir(), 'partsong-page-'));
  mkdirSync(join(folder, 'assets'));
  writeFileSync(join(folder, 'index.html'), '<!doctype html><script type="module" src="/assets/page.js"></script>');
  writeFileSync(join(folder, 'assets/page.js'), 'document.title = "Partsong";');
  writeFileSync(join(folder, 'secret.txt'), 'none of the page');
  return folder;
}

export interface RawAnswer {
  readonly status: number;
  readonly headers: Readonly<Record<string, string | string[] | undefined>>;
  readonly text: string;
}

/** One request with exactly these headers and this target, as no browser would send it. */
export function rawRequest(
  origin: string,
  method: string,
  path: string,
  headers: Readonly<Record<string, string>> = {},
  body?: string | Uint8Array,
): Promise<RawAnswer> {
  const { port } = new URL(origin);
  return new Promise((resolve, reject) => {
    const asked = request({ host: '127.0.0.1', port, method, path, headers, setHost: headers['host'] === undefined });
    asked.on('error', reject);
    asked.on('response', (response) => {
      const pieces: Buffer[] = [];
      response.on('data', (piece: Buffer) => pieces.push(piece));
      response.on('error', reject);
      response.on('end', () =>
        resolve({
          status: response.statusCode ?? 0,
          headers: response.headers,
          text: Buffer.concat(pieces).toString('utf8'),
        }),
      );
    });
    asked.end(body);
  });
}

/** A page in a browser, as far as requests go. */
export class BrowserPage {
  readonly origin: string;
  cookie: string;

  private constructor(origin: string, cookie: string) {
    this.origin = origin;
    this.cookie = cookie;
  }

  /** Opens the address of a door and hands in its token. */
  static async open(url: string): Promise<BrowserPage> {
    const { origin, hash } = new URL(url);
    const answer = await rawRequest(
      origin,
      'POST',
      '/enter',
      { origin, 'content-type': 'application/json' },
      JSON.stringify({ token: hash.slice(1) }),
    );
    const cookie = String(answer.headers['set-cookie']?.[0] ?? '').split(';')[0] ?? '';
    return new BrowserPage(origin, cookie);
  }

  /** What a browser sends of itself with a request of the page. */
  get headers(): Record<string, string> {
    return { origin: this.origin, cookie: this.cookie, 'sec-fetch-site': 'same-origin' };
  }

  raw(
    method: string,
    path: string,
    headers: Readonly<Record<string, string>> = {},
    body?: string | Uint8Array,
  ): Promise<RawAnswer> {
    return rawRequest(this.origin, method, path, { ...this.headers, ...headers }, body);
  }

  async call(name: string, input: unknown): Promise<DoorAnswer> {
    const body = JSON.stringify({ name, input });
    return JSON.parse((await this.raw('POST', '/call', { 'content-type': 'application/json' }, body)).text);
  }

  fetch(path: string, headers: Readonly<Record<string, string>> = {}, method = 'GET'): Promise<Response> {
    return fetch(`${this.origin}${path}`, { method, headers: { cookie: this.cookie, ...headers } });
  }

  /** Listens to the events; `lastId` as a browser says that comes back. */
  async listen(lastId?: string): Promise<Listening> {
    const stop = new AbortController();
    const response = await fetch(`${this.origin}/events`, {
      headers: { cookie: this.cookie, ...(lastId === undefined ? {} : { 'last-event-id': lastId }) },
      signal: stop.signal,
    });
    const listening: Listening = { status: response.status, events: [], named: [], stop: () => stop.abort() };
    const decoder = new TextDecoder();
    let rest = '';
    const read = async (): Promise<void> => {
      for await (const piece of response.body ?? []) {
        const messages = (rest + decoder.decode(piece, { stream: true })).split('\n\n');
        rest = messages.pop() ?? '';
        for (const message of messages) takeMessage(listening, message);
      }
    };
    read().catch(() => listening.named.push('broken'));
    return listening;
  }
}

export interface Listening {
  readonly status: number;
  readonly events: DeskEvent[];
  /** Events of the stream itself: hello, goodbye; 'broken' when it broke off. */
  readonly named: string[];
  stop(): void;
}

function takeMessage(listening: Listening, message: string): void {
  const field = (name: string): string | undefined => new RegExp(`^${name}: (.*)$`, 'm').exec(message)?.[1];
  const name = field('event');
  const data = field('data');
  if (name !== undefined) listening.named.push(name);
  else if (data !== undefined) listening.events.push(JSON.parse(data));
}
