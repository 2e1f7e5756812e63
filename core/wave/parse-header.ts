import { PartsongError } from '../signal/fault.ts';
import type { ByteSource } from './byte-source.ts';
import {
  BEXT_FIXED_BYTES,
  BEXT_LOUDNESS_FIELDS,
  BEXT_LOUDNESS_UNUSED,
  BEXT_OFFSET,
  type BextFields,
  type BextLoudness,
  BYTES_PER_SAMPLE,
  DS64_BYTES,
  type SampleFormat,
  SIZE_ELSEWHERE,
  SUBFORMAT_TAIL,
  TAG_EXTENSIBLE,
  TAG_FLOAT,
  TAG_PCM,
} from './format.ts';

/** What the header of a WAVE file says, settled against the file's true length. */
export interface WaveHeader {
  readonly format: SampleFormat;
  readonly channels: number;
  readonly rateHz: number;
  /** Where the samples begin, bytes from the start of the file. */
  readonly dataOffsetBytes: number;
  /** Whole frames only. */
  readonly dataBytes: number;
  readonly lengthFrames: number;
  readonly bext: BextFields | undefined;
  /** False when the header's own length was missing or passed the end of the file: the recording was not closed, or cut. */
  readonly lengthStated: boolean;
}

/** A file with more chunks than this before its samples is taken as damaged. */
const MOST_CHUNKS = 10_000;
const CHUNK_HEAD_BYTES = 8;

interface Chunk {
  readonly id: string;
  readonly bodyAt: number;
  readonly bodyBytes: number;
}

interface SampleLayout {
  readonly format: SampleFormat;
  readonly channels: number;
  readonly rateHz: number;
}

interface LongSizes {
  readonly dataBytes: number;
  /** Sizes of other chunks, by id, from the table of ds64. */
  readonly table: ReadonlyMap<string, number>;
}

/**
 * Reads the header of a RIFF, RF64 or BW64 WAVE file: fmt of 16, 18 or 40 bytes (plain and EXTENSIBLE), ds64, bext; every
 * other chunk is skipped, odd ones with their padding byte. A data size of 0 or FFFFFFFF, or one past the end of the
 * file, is replaced by what the file holds.
 * Sources: Microsoft/IBM RIFF 1991; EBU Tech 3306 (RF64); ITU-R BS.2088 (BW64); EBU Tech 3285 (bext).
 * file: its name, for the sentences. Throws PartsongError 'file-empty', 'not-media', 'no-sound' or 'truncated'.
 */
export function parseWaveHeader(source: ByteSource, file: string): WaveHeader {
  if (source.lengthBytes === 0) {
    throw new PartsongError('file-empty', `The file ${file} is empty.`, 'Copy the recording again.', file);
  }
  const head = source.read(0, 12);
  const kind = head.length < 12 ? '' : fourCc(head, 0);
  if (!['RIFF', 'RF64', 'BW64'].includes(kind) || fourCc(head, 8) !== 'WAVE') {
    throw notWave(file, 'it does not begin as one');
  }
  let layout: SampleLayout | undefined;
  let longSizes: LongSizes | undefined;
  let bext: BextFields | undefined;
  let data: Chunk | undefined;
  let stated = true;
  let at = 12;
  for (let count = 0; count < MOST_CHUNKS && at + CHUNK_HEAD_BYTES <= source.lengthBytes; count++) {
    const chunk = readChunkHead(source, at, longSizes);
    if (chunk === undefined) break;
    let bodyBytes = chunk.bodyBytes;
    if (chunk.id === 'fmt ') layout = parseFmt(source.read(chunk.bodyAt, Math.min(bodyBytes, 64)), bodyBytes, file);
    else if (chunk.id === 'ds64') longSizes = parseDs64(source.read(chunk.bodyAt, Math.min(bodyBytes, 4096)), file);
    else if (chunk.id === 'bext') bext = parseBext(source.read(chunk.bodyAt, Math.min(bodyBytes, BEXT_FIXED_BYTES)));
    else if (chunk.id === 'data') {
      const rest = source.lengthBytes - chunk.bodyAt;
      // A file whose outer size is right was closed in order: no samples then means no samples.
      stated = bodyBytes <= rest && (bodyBytes > 0 || viewOf(head).getUint32(4, true) + 8 === source.lengthBytes);
      if (!stated) bodyBytes = rest;
      data = { ...chunk, bodyBytes };
      if (!stated) break;
    }
    at = chunk.bodyAt + bodyBytes + (bodyBytes % 2);
  }
  if (layout === undefined || data === undefined) throw incomplete(file, layout === undefined ? 'fmt' : 'data');
  const frameBytes = layout.channels * BYTES_PER_SAMPLE[layout.format];
  const lengthFrames = Math.floor(data.bodyBytes / frameBytes);
  if (lengthFrames === 0) {
    throw new PartsongError(
      'no-sound',
      `The file ${file} holds no sound: its header is there, but nothing was recorded.`,
      'Record it again, or leave it out.',
      file,
    );
  }
  return {
    ...layout,
    dataOffsetBytes: data.bodyAt,
    dataBytes: lengthFrames * frameBytes,
    lengthFrames,
    bext,
    lengthStated: stated,
  };
}

function readChunkHead(source: ByteSource, at: number, longSizes: LongSizes | undefined): Chunk | undefined {
  const head = source.read(at, CHUNK_HEAD_BYTES);
  if (head.length < CHUNK_HEAD_BYTES) return undefined;
  const id = fourCc(head, 0);
  let bodyBytes = viewOf(head).getUint32(4, true);
  if (bodyBytes === SIZE_ELSEWHERE && longSizes !== undefined) {
    bodyBytes = id === 'data' ? longSizes.dataBytes : (longSizes.table.get(id) ?? bodyBytes);
  }
  return { id, bodyAt: at + CHUNK_HEAD_BYTES, bodyBytes };
}

function parseFmt(body: Uint8Array, statedBytes: number, file: string): SampleLayout {
  if (body.length < 16)
    throw statedBytes < 16 ? notWave(file, `its fmt chunk has ${statedBytes} bytes`) : incomplete(file, 'fmt');
  const view = viewOf(body);
  let tag = view.getUint16(0, true);
  const channels = view.getUint16(2, true);
  const rateHz = view.getUint32(4, true);
  const frameBytes = view.getUint16(12, true);
  if (tag === TAG_EXTENSIBLE) {
    if (body.length < 40) throw notWave(file, 'its extended fmt chunk is too short');
    const known = SUBFORMAT_TAIL.every((value, index) => body[26 + index] === value);
    if (!known) throw notWave(file, 'its samples are coded in a way that is not known here');
    tag = view.getUint16(24, true);
  }
  if (channels < 1 || channels > 256) throw notWave(file, `it says it has ${channels} channels`);
  if (rateHz < 1000 || rateHz > 1_000_000) throw notWave(file, `it says its sample rate is ${rateHz} Hz`);
  // Containers of more bytes than the valid bits (20 bits in 3 bytes) are left-justified, so only the bytes count.
  const bits = (frameBytes / channels) * 8;
  const format = formatOf(tag, bits);
  if (format === undefined) {
    throw notWave(
      file,
      `its samples are of a kind that is not read here (tag ${tag}, ${view.getUint16(14, true)} bits)`,
    );
  }
  return { format, channels, rateHz };
}

function formatOf(tag: number, bits: number): SampleFormat | undefined {
  if (tag === TAG_PCM) return ({ 8: 'u8', 16: 'pcm16', 24: 'pcm24', 32: 'pcm32' } as const)[bits];
  if (tag === TAG_FLOAT) return ({ 32: 'float32', 64: 'float64' } as const)[bits];
  return undefined;
}

function parseDs64(body: Uint8Array, file: string): LongSizes {
  if (body.length < DS64_BYTES) throw incomplete(file, 'ds64');
  const view = viewOf(body);
  const entries = Math.min(view.getUint32(24, true), Math.floor((body.length - DS64_BYTES) / 12));
  const table = new Map<string, number>();
  for (let entry = 0; entry < entries; entry++) {
    const at = DS64_BYTES + entry * 12;
    table.set(fourCc(body, at), Number(view.getBigUint64(at + 4, true)));
  }
  return { dataBytes: Number(view.getBigUint64(8, true)), table };
}

/** Fields of a bext chunk; undefined when it is shorter than the standard's fixed part up to the version. */
function parseBext(body: Uint8Array): BextFields | undefined {
  if (body.length < BEXT_OFFSET.version + 2) return undefined;
  const view = viewOf(body);
  const loudness = view.getUint16(BEXT_OFFSET.version, true) >= 2 ? parseBextLoudness(view) : undefined;
  return {
    timeReferenceFrames: Number(view.getBigUint64(BEXT_OFFSET.timeReference, true)),
    description: asciiOf(body, BEXT_OFFSET.description, 256),
    originator: asciiOf(body, BEXT_OFFSET.originator, 32),
    date: asciiOf(body, BEXT_OFFSET.date, 10),
    time: asciiOf(body, BEXT_OFFSET.time, 8),
    ...(loudness === undefined ? {} : { loudness }),
  };
}

function parseBextLoudness(view: DataView): BextLoudness | undefined {
  if (view.byteLength < BEXT_OFFSET.loudness + 10) return undefined;
  const values = BEXT_LOUDNESS_FIELDS.map((_, index) => view.getInt16(BEXT_OFFSET.loudness + 2 * index, true));
  const known = BEXT_LOUDNESS_FIELDS.flatMap((field, index): [keyof BextLoudness, number][] =>
    values[index] === BEXT_LOUDNESS_UNUSED ? [] : [[field, values[index]! / 100]],
  );
  return known.length === 0 ? undefined : Object.fromEntries(known);
}

function asciiOf(bytes: Uint8Array, at: number, length: number): string {
  const field = bytes.subarray(at, at + length);
  const end = field.indexOf(0);
  return String.fromCharCode(...(end < 0 ? field : field.subarray(0, end)));
}

function fourCc(bytes: Uint8Array, at: number): string {
  return String.fromCharCode(bytes[at]!, bytes[at + 1]!, bytes[at + 2]!, bytes[at + 3]!);
}

function viewOf(bytes: Uint8Array): DataView {
  return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
}

function notWave(file: string, why: string): PartsongError {
  return new PartsongError(
    'not-media',
    `The file ${file} is not a WAV file that can be read: ${why}.`,
    'Check that it is the recording you meant, or export it again as WAV.',
    file,
  );
}

function incomplete(file: string, chunk: string): PartsongError {
  return new PartsongError(
    'truncated',
    `The WAV file ${file} stops before its ${chunk} part is complete.`,
    'Copy the recording again; if it is short at its source too, record it anew.',
    file,
  );
}
