import { open } from 'node:fs/promises';

/** A page of an Ogg stream is at most this long, bytes. Source: RFC 3533, section 6. */
const LONGEST_PAGE_BYTES = 65307;

/**
 * The last granule position of an Ogg file: for Vorbis the count of samples up to the true end, which older FFmpeg builds
 * pass over. Source: RFC 3533, section 6. Gives undefined where the file's end holds no page that tells one.
 */
export async function lastGranule(path: string): Promise<number | undefined> {
  const file = await open(path, 'r');
  try {
    const { size } = await file.stat();
    const length = Math.min(size, 2 * LONGEST_PAGE_BYTES);
    const tail = Buffer.alloc(length);
    await file.read(tail, 0, length, size - length);
    for (let at = tail.lastIndexOf('OggS'); at >= 0; at = at === 0 ? -1 : tail.lastIndexOf('OggS', at - 1)) {
      if (at + 14 > length) continue;
      const granule = tail.readBigInt64LE(at + 6);
      if (granule > 0n) return Number(granule);
    }
    return undefined;
  } finally {
    await file.close();
  }
}
