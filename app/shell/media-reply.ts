import { doorFault, faultViewOf } from './door-fault.ts';
import type { DeskDoorHost } from './door-host.ts';
import { type Reply, refusal } from './door-reply.ts';

/** Bytes from `from` up to, but not including, `to`. */
export interface ByteSpan {
  readonly from: number;
  readonly to: number;
}

/**
 * The bytes a Range header asks for. Source: RFC 9110, section 14. 'whole' when there is no header, or one that may be
 * passed over (another unit, several ranges, malformed); 'outside' when nothing of it lies within the file.
 */
export function spanOf(range: string | null, totalBytes: number): ByteSpan | 'whole' | 'outside' {
  const parts = range === null ? null : /^bytes=[ \t]*(\d*)-(\d*)[ \t]*$/i.exec(range);
  if (parts === null) return 'whole';
  const [, first = '', last = ''] = parts;
  if (first === '') {
    if (last === '') return 'whole';
    const count = Math.min(Number(last), totalBytes);
    return count === 0 ? 'outside' : { from: totalBytes - count, to: totalBytes };
  }
  const from = Number(first);
  if (last !== '' && Number(last) < from) return 'whole';
  if (from >= totalBytes) return 'outside';
  return { from, to: last === '' ? totalBytes : Math.min(totalBytes, Number(last) + 1) };
}

/** A report or plan of ours brings its own style; it runs nothing, whatever is in it. */
const DOCUMENT = { 'content-security-policy': "default-src 'none'; style-src 'unsafe-inline'; sandbox" };

/** What a page asks of the media. */
export interface MediaRequest {
  /** With its query, without 'media/'; parseTarget has passed it. */
  readonly route: string;
  /** The Range header; null also beside an If-Range, which never holds here since nothing is named by a tag. */
  readonly range: string | null;
}

/** Media of the open session, whole or in part; reading ends when `stop` is aborted. */
export async function mediaReply(host: DeskDoorHost, request: MediaRequest, stop: AbortSignal): Promise<Reply> {
  let media: Awaited<ReturnType<DeskDoorHost['media']>>;
  try {
    media = await host.media(request.route);
  } catch (error) {
    const fault = faultViewOf(error);
    return refusal(fault.code === 'unexpected' ? 500 : 404, fault);
  }
  if (media === null) return refusal(404, notThere);
  const { type, totalBytes } = media;
  const span = spanOf(request.range, totalBytes);
  const headers = { 'content-type': type, 'accept-ranges': 'bytes', ...(type.startsWith('text/html') ? DOCUMENT : {}) };
  if (span === 'outside') {
    return refusal(416, outsideFault, { 'content-range': `bytes */${totalBytes}`, 'accept-ranges': 'bytes' });
  }
  if (span === 'whole') {
    const body = totalBytes === 0 ? null : media.read(0, totalBytes, stop);
    return { status: 200, headers: { ...headers, 'content-length': String(totalBytes) }, body };
  }
  return {
    status: 206,
    headers: {
      ...headers,
      'content-length': String(span.to - span.from),
      'content-range': `bytes ${span.from}-${span.to - 1}/${totalBytes}`,
    },
    body: media.read(span.from, span.to, stop),
  };
}

const notThere = doorFault(
  'no-media',
  'There is no such sound or picture in this session.',
  'Wait until it is read in.',
);
const outsideFault = doorFault('no-media', 'The page asked for a part beyond the end.', 'Reload the page.');
