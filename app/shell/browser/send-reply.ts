import type { IncomingMessage, ServerResponse } from 'node:http';
import { finished } from 'node:stream/promises';
import { forMethod, type Reply, SAFE_HEADERS } from '../door-reply.ts';
import { noteTrouble } from '../trouble.ts';

/** What is left of a refused body is passed over for so long, so that the page can read why it was refused. */
const PASS_OVER_MS = 3000;

/** Sends a reply with the headers that every answer has, at the pace of the page; settles when it is out or broken off. */
export async function sendReply(request: IncomingMessage, response: ServerResponse, whole: Reply): Promise<void> {
  const reply = forMethod(whole, request.method ?? 'GET');
  response.writeHead(reply.status, { ...SAFE_HEADERS, ...reply.headers });
  if (reply.body === null || reply.body instanceof Uint8Array) {
    response.end(reply.body ?? undefined);
  } else {
    await sendPieces(response, reply.body);
  }
  passOverRest(request);
}

async function sendPieces(response: ServerResponse, pieces: AsyncIterable<Uint8Array>): Promise<void> {
  try {
    for await (const piece of pieces) {
      if (response.destroyed) return;
      if (!response.write(piece)) await drained(response);
    }
    response.end();
    await finished(response);
  } catch (error) {
    // The headers are out: breaking off is the one way to say that the rest is missing.
    if (!response.destroyed) noteTrouble('a reply broke off', error);
    response.destroy();
  }
}

function drained(response: ServerResponse): Promise<void> {
  return new Promise((resolve) => {
    const done = (): void => {
      response.off('drain', done);
      response.off('close', done);
      resolve();
    };
    response.on('drain', done);
    response.on('close', done);
  });
}

function passOverRest(request: IncomingMessage): void {
  if (request.complete || request.destroyed) return;
  request.resume();
  const timer = setTimeout(() => request.destroy(), PASS_OVER_MS);
  timer.unref();
  request.once('close', () => clearTimeout(timer));
}
