import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { ClipIntake } from '../clip-intake.ts';
import { faultViewOf, isRendering } from '../door-fault.ts';
import type { DeskDoorHost } from '../door-host.ts';
import { refusal } from '../door-reply.ts';
import { PageFiles } from '../page-files.ts';
import { noteTrouble } from '../trouble.ts';
import { Admission } from './admission.ts';
import { type DoorParts, replyTo } from './door-routes.ts';
import { EventStreams } from './event-stream.ts';
import { PageWatch } from './page-watch.ts';
import { sendReply } from './send-reply.ts';

const LINGER_MS = 5000;
/** A page that was dropped because it did not read is waited for so many times as long. */
const DROPPED_LINGERS = 12;
const MOST_UNREAD_BYTES = 16 * 2 ** 20;
const MOST_HEADER_BYTES = 16 * 2 ** 10;
const HEADERS_WITHIN_MS = 10_000;
const KEEP_IDLE_MS = 60_000;

export interface BrowserDoorOptions {
  readonly host: DeskDoorHost;
  /** The built page, such as out/renderer. */
  readonly pageFolder: string;
  /** 0, the default: any that is free. */
  readonly port?: number;
  /** The door ends so long after its last page went, ms; null: it stays until close(). Default 5000. */
  readonly lingerMs?: number | null;
  /** A page for which more than this waits unread is dropped. Default 16 MiB. */
  readonly mostUnreadBytes?: number;
}

export interface BrowserDoor {
  /** The address to open, once, with the token in its fragment. */
  readonly url: string;
  /** The door's address without the token. */
  readonly origin: string;
  /** Settles when the door has ended, by itself or by close(), with why. */
  readonly ended: Promise<string>;
  /** Ends the door at once; the host stays. reason: as in "it was closed". */
  close(reason?: string): Promise<void>;
}

/** Serves the desk to a browser of this computer, and to nobody else. The host is closed by whoever made it. */
export async function startBrowserDoor(options: BrowserDoorOptions): Promise<BrowserDoor> {
  const { host, lingerMs = LINGER_MS, mostUnreadBytes = MOST_UNREAD_BYTES } = options;
  const page = new PageFiles(options.pageFolder);
  const server = createServer({ maxHeaderSize: MOST_HEADER_BYTES, headersTimeout: HEADERS_WITHIN_MS });
  // A clip of an hour may take its time; what is idle is ended where bodies are read.
  server.requestTimeout = 0;
  // A page that rests a while finds its connections again, rather than one that is just being closed.
  server.keepAliveTimeout = KEEP_IDLE_MS;
  await listen(server, options.port ?? 0);
  const admission = new Admission((server.address() as AddressInfo).port);
  const watch =
    lingerMs === null
      ? undefined
      : new PageWatch(
          lingerMs,
          () => isRendering(host),
          () => void close('its last page was closed'),
        );
  const events = new EventStreams(host, mostUnreadBytes, (isDropped) =>
    watch?.set(events.pages, isDropped ? DROPPED_LINGERS * (lingerMs ?? 0) : (lingerMs ?? 0)),
  );
  const parts: DoorParts = { host, page, admission, events, clips: new ClipIntake() };
  server.on('request', (request: IncomingMessage, response: ServerResponse) => {
    watch?.touch();
    answer(parts, request, response).catch((error: unknown) => {
      noteTrouble('an answer failed', error);
      response.destroy();
    });
  });
  let why = '';
  const ended = new Promise<string>((resolve) => {
    server.on('close', () => resolve(why));
  });
  const close = async (reason = 'it was closed'): Promise<void> => {
    why ||= reason;
    watch?.stop();
    events.close();
    server.close();
    // Goodbyes are on their way; whatever is still open then is not waited for.
    setTimeout(() => server.closeAllConnections(), 100);
    await ended;
  };
  return { url: `${admission.origin}/#${admission.token}`, origin: admission.origin, ended, close };
}

async function answer(parts: DoorParts, request: IncomingMessage, response: ServerResponse): Promise<void> {
  const stop = new AbortController();
  response.on('close', () => stop.abort());
  try {
    const reply = await replyTo(parts, request, response, stop.signal);
    if (reply !== 'taken' && !response.destroyed) await sendReply(request, response, reply);
  } catch (error) {
    const fault = faultViewOf(error);
    if (response.headersSent) response.destroy();
    else await sendReply(request, response, refusal(500, fault));
  }
}

async function listen(server: Server, port: number): Promise<void> {
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject);
    server.listen(port, '127.0.0.1', () => {
      server.off('error', reject);
      resolve();
    });
  });
}
