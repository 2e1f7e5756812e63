import { assertInRange } from '../signal/fault.ts';
import {
  BEXT_FIXED_BYTES,
  BEXT_LOUDNESS_FIELDS,
  BEXT_LOUDNESS_UNUSED,
  BEXT_OFFSET,
  type BextFields,
  BYTES_PER_SAMPLE,
  DS64_BYTES,
  SIZE_ELSEWHERE,
  SUBFORMAT_TAIL,
  TAG_EXTENSIBLE,
  TAG_FLOAT,
  TAG_PCM,
  type WrittenFormat,
} from './format.ts';

/** What a WAVE file that is to be written holds. */
export interface WavePlan {
  readonly format: WrittenFormat;
  /** 1 or 2. */
  readonly channels: number;
  readonly rateHz: number;
  /** undefined while it is not known: the file then reads as an unfinished recording. */
  readonly lengthFrames: number | undefined;
  readonly bext?: BextFields;
}

/** Speaker positions of the channel mask: front centre alone, front left and right. */
const MASK_MONO = 0x4;
const MASK_STEREO = 0x3;
const BEXT_VERSION = 2;
const FMT_BYTES: Readonly<Record<WrittenFormat, number>> = { pcm16: 16, pcm24: 40, float32: 18 };

/**
 * The bytes that stand before the samples. Their count depends on everything but the length, so that a header written
 * first without length can be overwritten in place when the length is known: RIFF with a 28-byte JUNK chunk, which
 * becomes ds64 of an RF64 file when the file passes 4 GiB. 16 bit has the plain 16-byte fmt; 24 bit has EXTENSIBLE, as
 * the format's owner asks for more than 16 bits; float has its own tag with an 18-byte fmt, which more readers know than
 * its EXTENSIBLE form. What is not 16 bit has fact as well.
 * After the samples come `wavePaddingBytes` zero bytes.
 * Sources: Microsoft, "Multiple channel audio data and WAVE files"; EBU Tech 3306; EBU Tech 3285 v2.
 */
export function makeWaveHeader(plan: WavePlan): Uint8Array {
  assertInRange('channels', plan.channels, 1, 2);
  assertInRange('rateHz', plan.rateHz, 1000, 1_000_000);
  const frameBytes = plan.channels * BYTES_PER_SAMPLE[plan.format];
  const fmtBytes = FMT_BYTES[plan.format];
  const factBytes = plan.format === 'pcm16' ? 0 : 12;
  const bextBytes = plan.bext === undefined ? 0 : 8 + BEXT_FIXED_BYTES;
  const headBytes = 12 + 8 + DS64_BYTES + bextBytes + 8 + fmtBytes + factBytes + 8;
  const dataBytes = (plan.lengthFrames ?? 0) * frameBytes;
  const riffBytes = headBytes - 8 + dataBytes + (dataBytes % 2);
  const long = riffBytes >= SIZE_ELSEWHERE;
  const unknown = plan.lengthFrames === undefined;
  const writer = new HeaderWriter(headBytes);
  writer.text(long ? 'RF64' : 'RIFF');
  writer.uint32(long || unknown ? SIZE_ELSEWHERE : riffBytes);
  writer.text('WAVE');
  writer.chunk(long ? 'ds64' : 'JUNK', DS64_BYTES);
  if (long) {
    writer.uint64(riffBytes);
    writer.uint64(dataBytes);
    writer.uint64(plan.lengthFrames ?? 0);
    writer.uint32(0);
  } else writer.skip(DS64_BYTES);
  if (plan.bext !== undefined) writeBext(writer, plan.bext);
  writeFmt(writer, plan, frameBytes, fmtBytes);
  if (factBytes > 0) {
    writer.chunk('fact', 4);
    writer.uint32(Math.min(plan.lengthFrames ?? 0, SIZE_ELSEWHERE));
  }
  writer.chunk('data', long || unknown ? SIZE_ELSEWHERE : dataBytes);
  return writer.bytes;
}

/** Zero bytes to write after the samples: 1 when they take an odd number of bytes, else 0. */
export function wavePaddingBytes(plan: WavePlan): number {
  return ((plan.lengthFrames ?? 0) * plan.channels * BYTES_PER_SAMPLE[plan.format]) % 2;
}

function writeFmt(writer: HeaderWriter, plan: WavePlan, frameBytes: number, fmtBytes: number): void {
  const bits = BYTES_PER_SAMPLE[plan.format] * 8;
  const tag = plan.format === 'float32' ? TAG_FLOAT : TAG_PCM;
  writer.chunk('fmt ', fmtBytes);
  writer.uint16(fmtBytes === 40 ? TAG_EXTENSIBLE : tag);
  writer.uint16(plan.channels);
  writer.uint32(plan.rateHz);
  writer.uint32(plan.rateHz * frameBytes);
  writer.uint16(frameBytes);
  writer.uint16(bits);
  if (fmtBytes >= 18) writer.uint16(fmtBytes - 18);
  if (fmtBytes < 40) return;
  writer.uint16(bits);
  writer.uint32(plan.channels === 1 ? MASK_MONO : MASK_STEREO);
  writer.uint16(tag);
  for (const value of SUBFORMAT_TAIL) writer.uint8(value);
}

function writeBext(writer: HeaderWriter, fields: BextFields): void {
  assertInRange('timeReferenceFrames', fields.timeReferenceFrames, 0, Number.MAX_SAFE_INTEGER);
  writer.chunk('bext', BEXT_FIXED_BYTES);
  const start = writer.at;
  writer.field(start + BEXT_OFFSET.description, fields.description ?? '', 256);
  writer.field(start + BEXT_OFFSET.originator, fields.originator ?? 'Partsong', 32);
  writer.field(start + BEXT_OFFSET.date, fields.date ?? '', 10);
  writer.field(start + BEXT_OFFSET.time, fields.time ?? '', 8);
  writer.at = start + BEXT_OFFSET.timeReference;
  writer.uint64(fields.timeReferenceFrames);
  writer.uint16(BEXT_VERSION);
  writer.at = start + BEXT_OFFSET.loudness;
  for (const field of BEXT_LOUDNESS_FIELDS) {
    const value = fields.loudness?.[field];
    writer.uint16(
      value === undefined || !Number.isFinite(value) ? BEXT_LOUDNESS_UNUSED : Math.round(value * 100) & 0xffff,
    );
  }
  writer.at = start + BEXT_FIXED_BYTES;
}

class HeaderWriter {
  readonly bytes: Uint8Array;
  at = 0;
  readonly #view: DataView;

  constructor(lengthBytes: number) {
    this.bytes = new Uint8Array(lengthBytes);
    this.#view = new DataView(this.bytes.buffer);
  }

  chunk(id: string, bodyBytes: number): void {
    this.text(id);
    this.uint32(bodyBytes);
  }

  text(ascii: string): void {
    for (let index = 0; index < ascii.length; index++) this.uint8(ascii.charCodeAt(index));
  }

  /** A text field of fixed length: letters without their accents, other strangers as '?'. */
  field(at: number, text: string, length: number): void {
    const ascii = text
      .normalize('NFKD')
      .replace(/\p{M}/gu, '')
      .replace(/[^\x20-\x7e]/gu, '?');
    this.at = at;
    this.text(ascii.slice(0, length));
  }

  skip(count: number): void {
    this.at += count;
  }

  uint8(value: number): void {
    this.#view.setUint8(this.at, value);
    this.at += 1;
  }

  uint16(value: number): void {
    this.#view.setUint16(this.at, value, true);
    this.at += 2;
  }

  uint32(value: number): void {
    this.#view.setUint32(this.at, value, true);
    this.at += 4;
  }

  uint64(value: number): void {
    this.#view.setBigUint64(this.at, BigInt(value), true);
    this.at += 8;
  }
}
