import { type FileHandle, open } from 'node:fs/promises';
import { type ToldSound, toldSound } from './sample-description.ts';
import type { EditTimes } from './sound-edits.ts';
import type { StampRun } from './sound-pace.ts';

/** One track of an ISO base media file (.mp4, .m4a, .3gp) or QuickTime movie (.mov). */
export interface Mp4Track {
  readonly kind: 'audio' | 'video' | 'other';
  /** Presentation time at which the track begins: its leading empty edits, s. */
  readonly startSec: number;
  /** Presentation time at which its last edit ends, s; absent where the file does not tell (fragmented files). */
  readonly endSec: number | undefined;
  readonly hasEdits: boolean;
  /** What its edits show, the empty ones left out, in the order in which it is shown. */
  readonly shown: readonly EditTimes[];
  /** Of sound: how long its packets are by their stamps, and the clock they are told in; empty where the file does not tell. */
  readonly stampRuns: readonly StampRun[];
  readonly ticksPerSec: number;
  /** Of sound: rate and channels as its sample description tells them. */
  readonly told: ToldSound;
}

/** What the boxes of a file tell of its time line and its wholeness. */
export interface Mp4Facts {
  /** In the order of the file. Empty where the movie box is missing. */
  readonly tracks: readonly Mp4Track[];
  /** The box without which nothing can be read is there. */
  readonly hasMovie: boolean;
  /** The file ends inside a box. */
  readonly cutOff: boolean;
}

const LARGEST_MOVIE_BYTES = 256 * 2 ** 20;
const KNOWN_FIRST_BOXES = new Set(['ftyp', 'moov', 'mdat', 'wide', 'free', 'skip', 'pnot', 'uuid', 'moof', 'styp']);
/** Boxes that hold a recording, as against what is told of it. */
const MEDIA = new Set(['mdat', 'moov', 'moof']);
const CONTAINERS = new Set(['trak', 'mdia', 'minf', 'stbl', 'edts']);

/**
 * Reads the time line of an MP4 or QuickTime file from its boxes, without its media.
 * Source: ISO/IEC 14496-12, sections 8.2 (moov), 8.6.1.2 (stts), 8.6.6 (elst); QuickTime File Format, Edit Atoms.
 * Gives undefined where the file is no such file.
 */
export async function readMp4Facts(path: string): Promise<Mp4Facts | undefined> {
  const file = await open(path, 'r');
  try {
    return await readBoxes(file, (await file.stat()).size);
  } finally {
    await file.close();
  }
}

async function readBoxes(file: FileHandle, sizeBytes: number): Promise<Mp4Facts | undefined> {
  let at = 0;
  let movie: Mp4Track[] | undefined;
  let cutOff = false;
  while (at < sizeBytes) {
    const head = await readBytes(file, at, Math.min(16, sizeBytes - at));
    if (head.length < 8) {
      cutOff = at > 0 && movie === undefined;
      break;
    }
    const type = head.toString('latin1', 4, 8);
    if (at === 0 && !KNOWN_FIRST_BOXES.has(type)) return undefined;
    const length = boxLength(head, sizeBytes - at);
    if (length === undefined) break;
    if (at + length > sizeBytes) {
      // Some recorders hang things of their own behind the last box, which read as a box of any length.
      cutOff = movie === undefined || MEDIA.has(type);
      break;
    }
    if (type === 'moov' && length <= LARGEST_MOVIE_BYTES) movie = readMovie(await readBytes(file, at + 8, length - 8));
    at += length;
  }
  return at === 0 && !cutOff ? undefined : { tracks: movie ?? [], hasMovie: movie !== undefined, cutOff };
}

function boxLength(head: Buffer, leftBytes: number): number | undefined {
  const short = head.readUInt32BE(0);
  if (short === 0) return leftBytes;
  if (short !== 1) return short >= 8 ? short : undefined;
  return head.length >= 16 ? Number(head.readBigUInt64BE(8)) : undefined;
}

async function readBytes(file: FileHandle, at: number, length: number): Promise<Buffer> {
  const buffer = Buffer.alloc(length);
  const { bytesRead } = await file.read(buffer, 0, length, at);
  return buffer.subarray(0, bytesRead);
}

interface Edit {
  readonly duration: number;
  /** -1: nothing is shown. */
  readonly mediaTime: number;
}

/** What is gathered of one track while its boxes are walked. */
interface Gathered {
  kind: Mp4Track['kind'];
  scale: number;
  mediaDuration: number;
  stampRuns: StampRun[];
  edits: Edit[];
  told: ToldSound;
}

function readMovie(movie: Buffer): Mp4Track[] {
  let movieScale = 600;
  let fragmented = false;
  const tracks: Gathered[] = [];
  forEachBox(movie, (type, body) => {
    if (type === 'mvhd') movieScale = body.readUInt32BE(body[0] === 1 ? 20 : 12) || 600;
    if (type === 'mvex') fragmented = true;
    if (type !== 'trak') return;
    const track: Gathered = {
      ...{ kind: 'other', scale: 0, mediaDuration: 0, stampRuns: [], edits: [] },
      told: { rateHz: 0, channels: 0 },
    };
    gather(body, track);
    tracks.push(track);
  });
  return tracks.map((track) => timesOf(track, movieScale, fragmented));
}

/** Walks boxes; what is malformed ends the walk, and what was read before it counts. */
function forEachBox(bytes: Buffer, visit: (type: string, body: Buffer) => void): void {
  let at = 0;
  while (at + 8 <= bytes.length) {
    const head = bytes.subarray(at, at + 16);
    const length = boxLength(head, bytes.length - at);
    if (length === undefined || at + length > bytes.length) return;
    const body = bytes.subarray(at + (head.readUInt32BE(0) === 1 ? 16 : 8), at + length);
    try {
      visit(head.toString('latin1', 4, 8), body);
    } catch (error) {
      if (!(error instanceof RangeError)) throw error;
    }
    at += length;
  }
}

function gather(box: Buffer, track: Gathered): void {
  forEachBox(box, (type, body) => {
    if (CONTAINERS.has(type)) gather(body, track);
    else if (type === 'mdhd') track.scale = body.readUInt32BE(body[0] === 1 ? 20 : 12);
    else if (type === 'hdlr') track.kind = kindOf(body.toString('latin1', 8, 12)) ?? track.kind;
    else if (type === 'stts') {
      const runs = readStampRuns(body);
      track.mediaDuration = runs.reduce((sum, { packets, ticks }) => sum + packets * ticks, 0);
      if (track.kind === 'audio') track.stampRuns = runs;
    } else if (type === 'elst') track.edits = readEdits(body);
    else if (type === 'stsd' && track.kind === 'audio') track.told = toldSound(body);
  });
}

/** QuickTime has a second handler box (`url `, `alis`) that tells of the data, not of the track. */
function kindOf(handler: string): Mp4Track['kind'] | undefined {
  if (handler === 'soun') return 'audio';
  return handler === 'vide' ? 'video' : undefined;
}

function readStampRuns(stts: Buffer): StampRun[] {
  const count = stts.readUInt32BE(4);
  const runs: StampRun[] = [];
  for (let n = 0; n < count; n++) {
    runs.push({ packets: stts.readUInt32BE(8 + n * 8), ticks: stts.readUInt32BE(12 + n * 8) });
  }
  return runs;
}

function readEdits(elst: Buffer): Edit[] {
  const isLong = elst[0] === 1;
  const count = elst.readUInt32BE(4);
  const edits: Edit[] = [];
  for (let n = 0; n < count; n++) {
    const at = 8 + n * (isLong ? 20 : 12);
    edits.push(
      isLong
        ? { duration: Number(elst.readBigUInt64BE(at)), mediaTime: Number(elst.readBigInt64BE(at + 8)) }
        : { duration: elst.readUInt32BE(at), mediaTime: elst.readInt32BE(at + 4) },
    );
  }
  return edits;
}

/**
 * An edit's length is told in the movie's coarse units; where it reaches the end of the media to within one such unit,
 * the media's own count is the exact one.
 */
function timesOf(track: Gathered, movieScale: number, fragmented: boolean): Mp4Track {
  const known = track.scale > 0 && track.mediaDuration > 0 && !fragmented;
  let atSec = 0;
  let startSec: number | undefined;
  const shown: EditTimes[] = [];
  for (const edit of track.edits) {
    const toldSec = edit.duration / movieScale;
    if (edit.mediaTime < 0) {
      atSec += toldSec;
      continue;
    }
    startSec ??= atSec;
    const leftSec = track.scale > 0 ? (track.mediaDuration - edit.mediaTime) / track.scale : 0;
    const toTheEnd = edit.duration === 0 || toldSec > leftSec - 1.01 / movieScale;
    // Pictures that are shown in another order than they are coded reach past the sum of their lengths.
    const isExact = known && toTheEnd && (track.kind !== 'video' || edit.duration === 0);
    const lengthSec = isExact ? Math.max(0, leftSec) : toldSec;
    shown.push({ atSec, mediaSec: edit.mediaTime / Math.max(1, track.scale), lengthSec });
    atSec += lengthSec;
  }
  if (startSec === undefined) {
    startSec = atSec;
    if (known) atSec += track.mediaDuration / track.scale;
  }
  const { kind, stampRuns, scale: ticksPerSec, told } = track;
  const endSec = known ? atSec : undefined;
  return {
    kind,
    startSec,
    endSec,
    hasEdits: track.edits.length > 0,
    shown,
    stampRuns,
    ticksPerSec,
    told,
  };
}
