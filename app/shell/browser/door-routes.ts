import type { IncomingMessage, ServerResponse } from 'node:http';
import { type ClipIntake, CutOffError, safeClipName } from '../clip-intake.ts';
import { checkCall, doCall, doorFault, faultViewOf } from '../door-fault.ts';
import type { DeskDoorHost } from '../door-host.ts';
import { jsonReply, type Reply, refusal, SAFE_HEADERS } from '../door-reply.ts';
import { mediaReply } from '../media-reply.ts';
import type { PageFiles } from '../page-files.ts';
import { parseTarget, type Target } from '../target.ts';
import type { Admission } from './admission.ts';
import type { EventStreams } from './event-stream.ts';
import { isJson, parseJson, readBody } from './read-body.ts';

/** An edit of 2000 takes at once fits well. */
const MOST_CALL_BYTES = 2 ** 20;
const MOST_TOKEN_BYTES = 1024;
/** A clip is at most so large: hours of the best a phone makes. */
const MOST_CLIP_BYTES = 64 * 2 ** 30;
/** A clip of which nothing comes for so long has broken off. */
const CLIP_IDLE_MS = 60_000;

/** What the routes work with. */
export interface DoorParts {
  readonly host: DeskDoorHost;
  readonly page: PageFiles;
  readonly admission: Admission;
  readonly events: EventStreams;
  readonly clips: ClipIntake;
}

type Answer = Reply | 'taken';
interface Asked {
  readonly parts: DoorParts;
  readonly request: IncomingMessage;
  readonly response: ServerResponse;
  readonly target: Target;
  /** Aborted when the page is gone. */
  readonly stop: AbortSignal;
}
interface Route {
  readonly methods: readonly string[];
  /** Only for a page that has handed in the token. */
  readonly guarded: boolean;
  readonly answer: (asked: Asked) => Answer | Promise<Answer>;
}

const READ = ['GET', 'HEAD'] as const;
const routes: Readonly<Record<string, Route>> = {
  enter: { methods: ['POST'], guarded: false, answer: enter },
  call: { methods: ['POST'], guarded: true, answer: call },
  events: { methods: ['GET'], guarded: true, answer: events },
  there: { methods: READ, guarded: true, answer: () => jsonReply(200, { ok: true, value: null }) },
  media: { methods: READ, guarded: true, answer: media },
  clips: { methods: ['PUT'], guarded: true, answer: clip },
};
/** The page's own files hold nothing of the user's, and are needed to hand in the token. */
const pageRoute: Route = {
  methods: READ,
  guarded: false,
  answer: ({ parts, target }) => parts.page.reply(target.segments),
};

/** The reply to a request, or 'taken' when it is answered already and goes on. */
export async function replyTo(
  parts: DoorParts,
  request: IncomingMessage,
  response: ServerResponse,
  stop: AbortSignal,
): Promise<Answer> {
  const { admission } = parts;
  const method = request.method ?? '';
  if (!admission.isOurHost(request.headers)) return refusal(421, faults.host);
  const target = parseTarget(request.url ?? '');
  if (target === undefined) return refusal(400, faults.address);
  const name = target.segments[0] ?? '';
  const route = Object.hasOwn(routes, name) ? routes[name]! : pageRoute;
  if (!admission.isOurOrigin(request.headers, !isRead(method))) return refusal(403, faults.origin);
  if (!route.methods.includes(method)) return refusal(405, faults.method, { allow: route.methods.join(', ') });
  if (route.guarded && !admission.isAdmitted(request.headers)) return refusal(401, faults.token);
  return route.answer({ parts, request, response, target, stop });
}

function isRead(method: string): boolean {
  return method === 'GET' || method === 'HEAD';
}

async function enter({ parts, request, target }: Asked): Promise<Answer> {
  if (target.segments.length !== 1) return refusal(404, faults.unknown);
  const message = await jsonOf(request, MOST_TOKEN_BYTES);
  if (!('value' in message)) return message;
  const token = fieldOf(message.value, 'token');
  const cookie = typeof token === 'string' ? parts.admission.enter(token) : undefined;
  // A reload with the token still in its address is as good as any other.
  if (cookie === undefined && !parts.admission.isAdmitted(request.headers)) return refusal(401, faults.token);
  return jsonReply(200, { ok: true, value: null }, cookie === undefined ? {} : { 'set-cookie': cookie });
}

async function call({ parts, request, target }: Asked): Promise<Answer> {
  if (target.segments.length !== 1) return refusal(404, faults.unknown);
  const message = await jsonOf(request, MOST_CALL_BYTES);
  if (!('value' in message)) return message;
  const checked = checkCall(fieldOf(message.value, 'name'), fieldOf(message.value, 'input'));
  if (!checked.ok) return refusal(400, checked.fault);
  return jsonReply(200, await doCall(parts.host, checked.name, checked.input));
}

function events({ parts, request, response, target }: Asked): Answer {
  if (target.segments.length !== 1) return refusal(404, faults.unknown);
  response.writeHead(200, { ...SAFE_HEADERS, 'content-type': 'text/event-stream' });
  parts.events.add(response, request.headers['last-event-id'] !== undefined);
  return 'taken';
}

function media({ parts, request, target, stop }: Asked): Promise<Reply> {
  const path = target.segments.slice(1).join('/');
  const route = target.query === '' ? path : `${path}?${target.query}`;
  const { range = null } = request.headers;
  const hasCondition = request.headers['if-range'] !== undefined;
  return mediaReply(parts.host, { route, range: hasCondition ? null : range }, stop);
}

async function clip({ parts, request, target }: Asked): Promise<Answer> {
  if (target.segments.length !== 1) return refusal(404, faults.unknown);
  const name = safeClipName(new URLSearchParams(target.query).get('name') ?? '');
  if (name === undefined) return refusal(400, faults.clipName);
  const { 'content-length': length, 'transfer-encoding': coding } = request.headers;
  if (length === undefined || coding !== undefined) return refusal(411, faults.clipLength);
  if (Number(length) > MOST_CLIP_BYTES) return refusal(413, faults.clipSize);
  const folder = parts.host.view()?.folder;
  if (folder === undefined) return refusal(409, faults.noSession);
  const idle = (): unknown => request.destroy();
  request.socket.setTimeout(CLIP_IDLE_MS, idle);
  try {
    return jsonReply(200, { ok: true, value: await parts.clips.take(folder, name, Number(length), request) });
  } catch (error) {
    if (error instanceof CutOffError) return refusal(400, faults.cutOff);
    const fault = faultViewOf(error);
    return refusal(fault.code === 'target-full' ? 507 : 500, fault);
  } finally {
    request.socket.setTimeout(0);
    request.socket.off('timeout', idle);
  }
}

async function jsonOf(request: IncomingMessage, mostBytes: number): Promise<{ readonly value: unknown } | Reply> {
  if (!isJson(request)) return refusal(415, faults.type);
  const body = await readBody(request, mostBytes);
  if (body === 'too-large') return refusal(413, faults.size);
  if (body === 'cut-off') return refusal(400, faults.cutOff);
  return parseJson(body) ?? refusal(400, faults.json);
}

function fieldOf(value: unknown, name: string): unknown {
  if (typeof value !== 'object' || value === null || !Object.hasOwn(value, name)) return undefined;
  return (value as Readonly<Record<string, unknown>>)[name];
}

const again = 'Reload the page; your session is saved.';
const anew = 'Close this page, and start Partsong again to get a new address.';
const faults = {
  host: doorFault('not-admitted', 'This desk is served at one address of this computer only.', anew),
  origin: doorFault('not-admitted', 'Another page than the desk itself has asked.', anew),
  token: doorFault('not-admitted', 'This address was opened before, in another browser, or is not whole.', anew),
  address: doorFault('bad-call', 'The address is malformed.', again),
  unknown: doorFault('not-found', 'There is nothing at this address.', again),
  method: doorFault('bad-call', 'The page asked in a way the desk does not know.', again),
  type: doorFault('bad-call', 'The page sent something else than JSON.', again),
  json: doorFault('bad-call', 'The page sent something that is not whole.', again),
  size: doorFault('bad-call', 'The page sent more at once than the desk takes.', 'Do it in smaller parts.'),
  cutOff: doorFault('bad-call', 'The page broke off before everything was sent.', 'Try again.'),
  clipName: doorFault(
    'bad-option',
    "The clip's name holds something no file's name can.",
    'Rename the clip, then add it.',
  ),
  clipLength: doorFault('bad-call', 'The page did not say how long the clip is.', again),
  clipSize: doorFault('bad-option', 'The clip is larger than 64 GiB.', 'Cut it into parts, then add those.'),
  noSession: doorFault('no-session', 'No session is open that could take the clip.', 'Begin or open a session first.'),
} as const;
