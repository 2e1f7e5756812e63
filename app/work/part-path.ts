import { randomBytes } from 'node:crypto';

/**
 * A name beside `path` for what is being written, until it is whole and takes that name. A new one at each call: what another Partsong,
 * or an FFmpeg that outlived its own, still writes for the same entry of a cache lies in another file. It ends in `.part`, by which `Cache`
 * knows what was never finished.
 */
export function partOf(path: string): string {
  return `${path}.${randomBytes(4).toString('hex')}.part`;
}
