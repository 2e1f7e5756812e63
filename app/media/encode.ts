import { once } from 'node:events';
import { type Block, blockLength } from '../../core/signal/block.ts';
import { assertInRange, CancelledError, throwIfCancelled } from '../../core/signal/fault.ts';
import { sizeOfClip, unreadableFault } from './clip-faults.ts';
import { findFfmpeg } from './ffmpeg.ts';
import { ffmpegFault, fileArgument, type RunEnd, type RunningFfmpeg, startFfmpeg } from './run.ts';
import { targetFullFault, writeWhole } from './whole-file.ts';

/** Compressed sound files that are written through FFmpeg. */
export type EncodedFormat = 'flac' | 'm4a' | 'mp3';

/** Where the sound comes from: a WAVE file, or blocks at a rate. */
export type SoundSource =
  | { readonly kind: 'wave'; readonly path: string }
  | {
      readonly kind: 'blocks';
      readonly blocks: AsyncIterable<Block>;
      readonly rateHz: number;
      readonly channels: number;
    };

export interface EncodeOptions {
  readonly format: EncodedFormat;
  /** For m4a and mp3, kbit/s for all channels together; 256 where absent. FLAC pays no heed. */
  readonly bitrateKbps?: number | undefined;
  /** For FLAC of blocks; 24 where absent. A WAVE file keeps its own depth, but float becomes 24. */
  readonly bitDepth?: 16 | 24 | undefined;
  /** Written into the file: title, artist, comment, ... */
  readonly tags?: Readonly<Record<string, string>> | undefined;
  readonly signal?: AbortSignal | undefined;
  /** Called with the seconds encoded so far. */
  readonly onProgress?: ((doneSec: number) => void) | undefined;
}

/**
 * Encodes sound into `target`, beside it first and renamed when whole. Blocks are read only as fast as FFmpeg takes
 * them; what passes full scale is clipped by the encoder, so it should not come here. Throws CancelledError, PartsongError
 * 'target-full' | 'target-unwritable' | 'ffmpeg-missing' | 'ffmpeg-failed', or whatever the blocks throw.
 */
export async function encodeAudio(source: SoundSource, target: string, options: EncodeOptions): Promise<void> {
  throwIfCancelled(options.signal);
  if (options.bitrateKbps !== undefined) assertInRange('bitrateKbps', options.bitrateKbps, 32, 512);
  if (source.kind === 'wave') await sizeOfClip(source.path);
  const ffmpeg = await findFfmpeg();
  const input = inputArguments(source);
  await writeWhole(
    target,
    async (partialPath) => {
      const output = [
        ...codecArguments(source, options),
        ...tagArguments(options.tags),
        '-y',
        fileArgument(partialPath),
      ];
      const onLine = (line: string): boolean => reportTime(line, options.onProgress);
      const args = ['-loglevel', 'warning', '-nostats', '-progress', 'pipe:2', ...input, ...output];
      const run = startFfmpeg(ffmpeg, args, { signal: options.signal, onLine });
      run.stdout.resume();
      try {
        await feed(run, source);
        const end = await run.end;
        throwIfCancelled(options.signal);
        await checkEnd(end, source, target);
      } catch (error) {
        throw options.signal?.aborted ? new CancelledError() : error;
      } finally {
        await run.stop();
      }
    },
    options.signal,
  );
}

function inputArguments(source: SoundSource): string[] {
  if (source.kind === 'wave') return ['-nostdin', '-protocol_whitelist', 'file,pipe', '-i', fileArgument(source.path)];
  return ['-f', 'f32le', '-ar', String(source.rateHz), '-ac', String(source.channels), '-i', 'pipe:0'];
}

function codecArguments(source: SoundSource, options: EncodeOptions): string[] {
  const bitrate = ['-b:a', `${options.bitrateKbps ?? 256}k`];
  // Without these, the file would tell of FFmpeg's version and differ from machine to machine for no reason.
  const plain = ['-vn', '-map_metadata', '-1', '-fflags', '+bitexact', '-flags:a', '+bitexact'];
  switch (options.format) {
    case 'flac': {
      const depth = options.bitDepth ?? (source.kind === 'blocks' ? 24 : undefined);
      const words = depth === 16 ? ['-sample_fmt', 's16'] : depth === 24 ? ['-sample_fmt', 's32'] : [];
      const bits = depth === 24 ? ['-bits_per_raw_sample', '24'] : [];
      return [...plain, '-c:a', 'flac', '-compression_level', '8', ...words, ...bits, '-f', 'flac'];
    }
    case 'm4a':
      return [...plain, '-c:a', 'aac', ...bitrate, '-movflags', '+faststart', '-f', 'ipod'];
    case 'mp3':
      return [...plain, '-c:a', 'libmp3lame', ...bitrate, '-id3v2_version', '3', '-f', 'mp3'];
  }
}

function tagArguments(tags: Readonly<Record<string, string>> | undefined): string[] {
  return Object.entries(tags ?? {}).flatMap(([name, value]) => ['-metadata', `${name}=${value}`]);
}

/** FFmpeg's `-progress` writes lines of `name=value`; the time is in microseconds, in spite of its name in old builds. */
function reportTime(line: string, onProgress: EncodeOptions['onProgress']): boolean {
  const time = /^out_time_ms=(\d+)/.exec(line);
  if (time !== null) onProgress?.(Number(time[1]) / 1e6);
  return /^[a-z_0-9]+=/.test(line);
}

async function feed(run: RunningFfmpeg, source: SoundSource): Promise<void> {
  if (source.kind === 'wave') {
    run.stdin.end();
    return;
  }
  const { stdin } = run;
  let gone = false;
  void run.end.then(() => {
    gone = true;
  });
  for await (const block of source.blocks) {
    if (gone || stdin.destroyed) return;
    if (block.length !== source.channels) {
      throw new RangeError(`a block has ${block.length} channels; announced were ${source.channels}`);
    }
    if (!stdin.write(interleave(block))) await Promise.race([once(stdin, 'drain').catch(() => undefined), run.end]);
  }
  stdin.end();
}

/** A pipe keeps what it is handed until it is written, so each block needs bytes of its own. */
function interleave(block: Block): Uint8Array {
  const frames = blockLength(block);
  const channels = block.length;
  const samples = new Float32Array(frames * channels);
  for (let channel = 0; channel < channels; channel++) {
    const from = block[channel]!;
    for (let n = 0, at = channel; n < frames; n++, at += channels) samples[at] = from[n]!;
  }
  return new Uint8Array(samples.buffer);
}

async function checkEnd(end: RunEnd, source: SoundSource, target: string): Promise<void> {
  const said = end.lastLines.join('\n');
  if (/No space left on device|Disk quota exceeded|File too large/i.test(said)) throw targetFullFault(target, said);
  if (end.exitCode === 0) return;
  if (source.kind === 'wave' && said.includes(fileArgument(source.path))) {
    throw await unreadableFault(source.path, end, 'encoding');
  }
  throw ffmpegFault(end, 'writing', target);
}
