import type { ServerResponse } from 'node:http';
import type { DeskEvent } from '../contract/events.ts';
import type { DeskDoorHost } from '../door-host.ts';

const KEEP_ALIVE_MS = 15_000;
/** A page tries again so soon after its stream broke off. */
const RETRY_MS = 500;

/**
 * Tells every page what the desk tells, as Server-Sent Events (WHATWG HTML, section 9.2). A page that does not read is
 * dropped when more than `mostUnreadBytes` wait for it; it comes back by itself and is then told the whole anew.
 */
export class EventStreams {
  readonly #host: DeskDoorHost;
  readonly #mostUnreadBytes: number;
  readonly #streams = new Set<ServerResponse>();
  readonly #stopListening: () => void;
  readonly #keepAlive: NodeJS.Timeout;
  #count = 0;

  /** onChange: called when a page comes or goes; isDropped: the one that went did not read, and may still be there. */
  constructor(host: DeskDoorHost, mostUnreadBytes: number, onChange: (isDropped: boolean) => void) {
    this.#host = host;
    this.#mostUnreadBytes = mostUnreadBytes;
    this.#onChange = onChange;
    this.#stopListening = host.onEvent((event) => this.#tellAll(event));
    this.#keepAlive = setInterval(() => this.#writeAll(': still here\n\n'), KEEP_ALIVE_MS);
    this.#keepAlive.unref();
  }

  readonly #onChange: (isDropped: boolean) => void;
  readonly #dropped = new WeakSet<ServerResponse>();

  /** Pages that listen now. */
  get pages(): number {
    return this.#streams.size;
  }

  /** isBack: the page was connected before and may have missed something. The headers have been written already. */
  add(response: ServerResponse, isBack: boolean): void {
    this.#streams.add(response);
    response.on('close', () => {
      this.#streams.delete(response);
      this.#onChange(this.#dropped.has(response));
    });
    // A number at once, so that the browser names it when it comes back.
    response.write(`retry: ${RETRY_MS}\nid: ${this.#count}\nevent: hello\ndata: {}\n\n`);
    if (isBack) {
      const view = this.#host.view();
      this.#write(response, message(this.#count, view === null ? { kind: 'closed' } : { kind: 'opened', view }));
    }
    this.#onChange(false);
  }

  /** Says goodbye, so that pages need not wonder. */
  close(): void {
    this.#stopListening();
    clearInterval(this.#keepAlive);
    for (const response of this.#streams) response.end('event: goodbye\ndata: {}\n\n');
  }

  #tellAll(event: DeskEvent): void {
    this.#count++;
    if (this.#streams.size > 0) this.#writeAll(message(this.#count, event));
  }

  #writeAll(text: string): void {
    for (const response of this.#streams) this.#write(response, text);
  }

  #write(response: ServerResponse, text: string): void {
    response.write(text);
    if (response.writableLength <= this.#mostUnreadBytes) return;
    this.#dropped.add(response);
    response.destroy();
  }
}

function message(id: number, event: DeskEvent): string {
  return `id: ${id}\ndata: ${JSON.stringify(event)}\n\n`;
}
