import { closeSync, openSync, readSync } from 'node:fs';
import type { Block } from '../../core/signal/block.ts';
import { PartsongError, throwIfCancelled } from '../../core/signal/fault.ts';
import type { ByteSource } from '../../core/wave/byte-source.ts';
import { BYTES_PER_SAMPLE } from '../../core/wave/format.ts';
import { MonoDecoder } from '../../core/wave/mono-decoder.ts';
import { parseWaveHeader, type WaveHeader } from '../../core/wave/parse-header.ts';
import { decodeInto } from '../../core/wave/samples.ts';
import { openFault } from './clip-faults.ts';
import type { ClipFacts } from './probe.ts';

/** Frames a piece, of all channels together: more did not pay. */
const BLOCK_SAMPLES = 65536;

/**
 * Facts of a WAVE file that is read without FFmpeg; undefined where the file is none, or its samples are coded in a way
 * that FFmpeg is needed for. Throws PartsongError 'truncated' | 'no-sound' | 'file-unreadable'.
 */
export async function probeWave(file: string, sizeBytes: number): Promise<ClipFacts | undefined> {
  const header = readWaveHeader(file, sizeBytes);
  if (header === undefined) return undefined;
  const { rateHz, channels, format, lengthFrames, lengthStated } = header;
  const lengthSec = lengthFrames / rateHz;
  const chosenAudio = {
    index: 0,
    codec: format,
    rateHz,
    channels,
    layout: channels === 1 ? 'mono' : channels === 2 ? 'stereo' : `${channels} channels`,
    startSec: 0,
    endSec: lengthSec,
    isDefault: true,
    primingFrames: 0,
    zeroFrame: 0,
  };
  return {
    file,
    container: 'wave',
    lengthSec,
    lengthTold: true,
    sizeBytes,
    audio: [chosenAudio],
    chosenAudio,
    video: undefined,
    zeroSec: 0,
    truncated: !lengthStated,
    notes: lengthStated ? [] : ['The file was not closed properly or is cut off; the sound that is there is used.'],
  };
}

/** The header of a WAVE file; undefined where the file is none that is read here. */
export function readWaveHeader(file: string, sizeBytes: number): WaveHeader | undefined {
  let fd: number;
  try {
    fd = openSync(file, 'r');
  } catch (error) {
    throw openFault(file, error);
  }
  try {
    const source = sourceOf(fd, sizeBytes);
    const head = Buffer.from(source.read(0, 12)).toString('latin1');
    if (!/^(RIFF|RF64|BW64)....WAVE/s.test(head)) return undefined;
    return parseWaveHeader(source, file);
  } catch (error) {
    if (error instanceof PartsongError && error.code === 'not-media') return undefined;
    throw error;
  } finally {
    closeSync(fd);
  }
}

function sourceOf(fd: number, lengthBytes: number): ByteSource {
  return {
    lengthBytes,
    read(fromByte, count) {
      const bytes = new Uint8Array(Math.max(0, Math.min(count, lengthBytes - fromByte)));
      return bytes.subarray(0, bytes.length === 0 ? 0 : readSync(fd, bytes, 0, bytes.length, fromByte));
    },
  };
}

/** Where plain samples lie in a file, and how. */
export type WaveSamples = Pick<WaveHeader, 'format' | 'channels' | 'dataOffsetBytes' | 'dataBytes'>;

/**
 * The samples of a WAVE file, or of any with plain samples in it, block by block; the arrays are reused. Reads synchronously in big pieces, which costs a
 * fraction of the asynchronous calls.
 */
export async function* decodeWave(
  file: string,
  samples: WaveSamples,
  signal?: AbortSignal,
  blockFrames = Math.ceil(BLOCK_SAMPLES / samples.channels),
): AsyncGenerator<Block> {
  const { format, channels, dataOffsetBytes, dataBytes } = samples;
  const frameBytes = channels * BYTES_PER_SAMPLE[format];
  const decoder = decoderFor(samples, blockFrames);
  const descriptor = openForReading(file);
  try {
    const { bytes } = decoder;
    let done = 0;
    while (done < dataBytes) {
      throwIfCancelled(signal);
      const wanted = Math.min(bytes.length, dataBytes - done);
      const bytesRead = readSync(descriptor, bytes, 0, wanted, dataOffsetBytes + done);
      const frames = Math.floor(bytesRead / frameBytes);
      if (frames === 0) break;
      yield decoder.decode(frames);
      done += frames * frameBytes;
    }
  } finally {
    closeSync(descriptor);
  }
}

/** Turns the bytes put into it to a block, which is reused. */
interface Decoder {
  readonly bytes: Uint8Array;
  decode(frames: number): Block;
}

function decoderFor({ format, channels }: WaveSamples, blockFrames: number): Decoder {
  if (channels === 1) {
    const mono = new MonoDecoder(format, blockFrames);
    return { bytes: mono.bytes, decode: (frames) => [mono.decode(frames)] };
  }
  const frameBytes = channels * BYTES_PER_SAMPLE[format];
  const bytes = new Uint8Array(blockFrames * frameBytes);
  const arrays = Array.from({ length: channels }, () => new Float32Array(blockFrames));
  return {
    bytes,
    decode(frames) {
      const block = frames === blockFrames ? arrays : arrays.map((array) => array.subarray(0, frames));
      decodeInto(bytes.subarray(0, frames * frameBytes), format, block);
      return block;
    },
  };
}

function openForReading(file: string): number {
  try {
    return openSync(file, 'r');
  } catch (error) {
    throw openFault(file, error);
  }
}
