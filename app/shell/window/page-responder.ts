import { Readable } from 'node:stream';
import { doorFault } from '../door-fault.ts';
import type { DeskDoorHost } from '../door-host.ts';
import { forMethod, type Reply, refusal, SAFE_HEADERS } from '../door-reply.ts';
import { mediaReply } from '../media-reply.ts';
import type { PageFiles } from '../page-files.ts';
import { parseTarget } from '../target.ts';
import { isOwnAddress, PAGE_ADDRESS } from './own-address.ts';

/** Beside what every answer has: the outputs of sound have names only where a microphone might be asked for; the asking itself is refused. */
const WINDOW_HEADERS = {
  ...SAFE_HEADERS,
  'permissions-policy': 'camera=(), microphone=(self), geolocation=(), display-capture=(), speaker-selection=(self)',
};

/** Answers requests of the window's page: its own files, and the session's media in ranges. */
export function pageResponder(host: DeskDoorHost, page: PageFiles): (request: Request) => Promise<Response> {
  return async (request) => {
    const stop = new AbortController();
    request.signal.addEventListener('abort', () => stop.abort(), { once: true });
    return responseOf(forMethod(await replyTo(host, page, request, stop.signal), request.method), stop);
  };
}

async function replyTo(host: DeskDoorHost, page: PageFiles, request: Request, stop: AbortSignal): Promise<Reply> {
  if (!isOwnAddress(request.url)) return refusal(403, faults.address);
  if (request.method !== 'GET' && request.method !== 'HEAD') return refusal(405, faults.method, { allow: 'GET, HEAD' });
  const target = parseTarget(`/${request.url.slice(PAGE_ADDRESS.length).split('#')[0]}`);
  if (target === undefined) return refusal(400, faults.address);
  const { segments, query } = target;
  if (segments[0] !== 'media') return page.reply(segments);
  const path = segments.slice(1).join('/');
  const route = query === '' ? path : `${path}?${query}`;
  const range = request.headers.has('if-range') ? null : request.headers.get('range');
  return mediaReply(host, { route, range }, stop);
}

function responseOf(reply: Reply, stop: AbortController): Response {
  return new Response(bodyOf(reply.body, stop), {
    status: reply.status,
    headers: { ...WINDOW_HEADERS, ...reply.headers },
  });
}

function bodyOf(body: Reply['body'], stop: AbortController): ConstructorParameters<typeof Response>[0] {
  if (body === null) return null;
  if (body instanceof Uint8Array) return new Uint8Array(body);
  const pieces = Readable.from(body, { objectMode: false });
  pieces.on('close', () => stop.abort());
  return Readable.toWeb(pieces) as unknown as ReadableStream<Uint8Array>;
}

const faults = {
  address: doorFault('bad-call', 'The address is malformed.', 'Reload the page; your session is saved.'),
  method: doorFault('bad-call', 'The page asked in a way the desk does not know.', 'Reload the page.'),
} as const;
