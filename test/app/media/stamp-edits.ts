import { readFileSync, writeFileSync } from 'node:fs';

/** Lengths of packets in ticks of the track's clock, run by run: [count, length]. */
export type StampRuns = readonly (readonly [number, number])[];

/** Boxes of an ISO base media file that hold boxes. */
const HOLDERS = new Set(['moov', 'trak', 'mdia', 'minf', 'stbl', 'edts']);

/**
 * Gives the sound of an MP4 or QuickTime file other time stamps, as a recorder writes them that lost sound or whose clocks
 * run apart (ISO/IEC 14496-12, 8.6.1.2 stts), with the lengths that go with them. Its movie box must lie behind its media.
 * runsFor: of the number of packets.
 */
export function restampSound(path: string, runsFor: (packets: number) => StampRuns): void {
  changeMovie(path, (movie) => withStamps(movie, runsFor, { movieScale: 0, addedSec: 0 }));
}

/**
 * Gives the sound of such a file another edit list (ISO/IEC 14496-12, 8.6.6): length in units of the movie, and the time of what
 * was recorded in the track's own ticks, -1 for nothing.
 */
export function editSound(path: string, edits: readonly (readonly [number, number])[]): void {
  const list = Buffer.alloc(8 + 12 * edits.length);
  list.writeUInt32BE(edits.length, 4);
  for (const [n, [length, mediaTime]] of edits.entries()) {
    list.writeUInt32BE(length, 8 + 12 * n);
    list.writeInt32BE(mediaTime, 12 + 12 * n);
    list.writeUInt32BE(0x10000, 16 + 12 * n);
  }
  changeMovie(path, (movie) => {
    const tracks = boxesOf(movie.subarray(8)).map(({ type, body }) => {
      const isSound = type === 'trak' && body.includes('soun');
      return box(type, isSound ? rewritten(body, (inner, old) => (inner === 'elst' ? list : old)) : body);
    });
    return box('moov', Buffer.concat(tracks));
  });
}

function changeMovie(path: string, change: (movie: Buffer) => Buffer): void {
  const bytes = readFileSync(path);
  let at = 0;
  while (bytes.toString('latin1', at + 4, at + 8) !== 'moov') at += bytes.readUInt32BE(at);
  const movie = bytes.subarray(at, at + bytes.readUInt32BE(at));
  writeFileSync(path, Buffer.concat([bytes.subarray(0, at), change(movie)]));
}

function boxesOf(body: Buffer): { type: string; body: Buffer }[] {
  const boxes: { type: string; body: Buffer }[] = [];
  for (let at = 0; at + 8 <= body.length; at += body.readUInt32BE(at)) {
    boxes.push({
      type: body.toString('latin1', at + 4, at + 8),
      body: body.subarray(at + 8, at + body.readUInt32BE(at)),
    });
  }
  return boxes;
}

function box(type: string, body: Buffer): Buffer {
  const head = Buffer.alloc(8);
  head.writeUInt32BE(8 + body.length, 0);
  head.write(type, 4, 'latin1');
  return Buffer.concat([head, body]);
}

interface Shared {
  movieScale: number;
  addedSec: number;
}

function withStamps(movie: Buffer, runsFor: (packets: number) => StampRuns, shared: Shared): Buffer {
  const body = boxesOf(movie.subarray(8)).map((inner) => {
    if (inner.type === 'mvhd') shared.movieScale = inner.body.readUInt32BE(12);
    const isSound = inner.type === 'trak' && inner.body.includes('soun');
    return box(inner.type, isSound ? soundTrack(inner.body, runsFor, shared) : inner.body);
  });
  return box('moov', Buffer.concat(body));
}

function soundTrack(track: Buffer, runsFor: (packets: number) => StampRuns, shared: Shared): Buffer {
  const table = track.subarray(track.indexOf('stts') + 4);
  let packets = 0;
  let ticks = 0;
  for (let n = 0; n < table.readUInt32BE(4); n++) {
    packets += table.readUInt32BE(8 + 8 * n);
    ticks += table.readUInt32BE(8 + 8 * n) * table.readUInt32BE(12 + 8 * n);
  }
  const runs = runsFor(packets);
  const added = runs.reduce((sum, [count, length]) => sum + count * length, 0) - ticks;
  const scale = track.readUInt32BE(track.indexOf('mdhd') + 4 + 12);
  shared.addedSec = added / scale;
  return rewritten(track, (type, body) => {
    const copy = Buffer.from(body);
    if (type === 'mdhd') copy.writeUInt32BE(copy.readUInt32BE(16) + added, 16);
    if (type === 'elst') {
      const last = 8 + 12 * (copy.readUInt32BE(4) - 1);
      copy.writeUInt32BE(copy.readUInt32BE(last) + Math.round(shared.addedSec * shared.movieScale), last);
    }
    if (type !== 'stts') return copy;
    const made = Buffer.alloc(8 + 8 * runs.length);
    made.writeUInt32BE(runs.length, 4);
    for (const [n, [count, length]] of runs.entries()) {
      made.writeUInt32BE(count, 8 + 8 * n);
      made.writeUInt32BE(length, 12 + 8 * n);
    }
    return made;
  });
}

function rewritten(body: Buffer, change: (type: string, body: Buffer) => Buffer): Buffer {
  const inner = boxesOf(body).map((one) =>
    box(one.type, HOLDERS.has(one.type) ? rewritten(one.body, change) : change(one.type, one.body)),
  );
  return Buffer.concat(inner);
}
