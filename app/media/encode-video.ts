import { once } from 'node:events';
import { CancelledError, throwIfCancelled } from '../../core/signal/fault.ts';
import { sizeOfClip } from './clip-faults.ts';
import { type Ffmpeg, findFfmpeg } from './ffmpeg.ts';
import { namesIn } from './ffmpeg-needs.ts';
import { ffmpegFault, fileArgument, type RunningFfmpeg, runFfmpeg, startFfmpeg } from './run.ts';
import { targetFullFault, writeWhole } from './whole-file.ts';

/** Pictures of one size at an even rate, from time 0 on. */
export interface PictureSource {
  /** Planar YUV 4:2:0, 8 bits, BT.709, limited range; a picture must not be changed once it was given. */
  readonly pictures: Iterable<Uint8Array> | AsyncIterable<Uint8Array>;
  readonly width: number;
  readonly height: number;
  readonly picturesPerSec: number;
}

export interface EncodeVideoOptions {
  /** For the sound, kbit/s; 192 where absent. */
  readonly bitrateKbps?: number;
  readonly tags?: Readonly<Record<string, string>>;
  readonly signal?: AbortSignal | undefined;
}

/**
 * Encodes pictures and the sound of a WAVE file into an MP4 file that begins at time 0 with both: H.264 where FFmpeg has it,
 * else MPEG-4 part 2, and AAC. Written beside the target first and renamed when whole; pictures are taken only as fast as
 * FFmpeg takes them. Throws CancelledError, PartsongError 'target-full' | 'target-unwritable' | 'ffmpeg-missing' |
 * 'ffmpeg-failed', or whatever the pictures throw.
 */
export async function encodeVideo(
  source: PictureSource,
  soundPath: string,
  target: string,
  options: EncodeVideoOptions = {},
): Promise<void> {
  const { signal } = options;
  throwIfCancelled(signal);
  await sizeOfClip(soundPath);
  const ffmpeg = await findFfmpeg();
  const coder = await pictureCoder(ffmpeg);
  const { width, height, picturesPerSec } = source;
  const input = [
    ...['-f', 'rawvideo', '-pix_fmt', 'yuv420p', '-s', `${width}x${height}`, '-r', String(picturesPerSec)],
    ...['-i', 'pipe:0', '-i', fileArgument(soundPath)],
  ];
  const colours = ['-color_primaries', 'bt709', '-color_trc', 'bt709', '-colorspace', 'bt709', '-color_range', 'tv'];
  const tags = Object.entries(options.tags ?? {}).flatMap(([name, value]) => ['-metadata', `${name}=${value}`]);
  // Without pictures that lean on later ones the first is shown at time 0 by every player, whatever it makes of edit lists.
  const plain = ['-map_metadata', '-1', '-fflags', '+bitexact', '-flags:v', '+bitexact', '-flags:a', '+bitexact'];
  const output = [
    ...['-map', '0:v', '-map', '1:a', ...plain, ...coder, '-bf', '0', '-g', String(2 * picturesPerSec)],
    ...['-pix_fmt', 'yuv420p', ...colours, '-c:a', 'aac', '-b:a', `${options.bitrateKbps ?? 192}k`, ...tags],
    ...['-movflags', '+faststart', '-f', 'mp4', '-y'],
  ];
  await writeWhole(
    target,
    async (partialPath) => {
      const args = ['-loglevel', 'warning', '-nostats', ...input, ...output, fileArgument(partialPath)];
      const run = startFfmpeg(ffmpeg, args, { signal });
      run.stdout.resume();
      try {
        await feed(run, source.pictures);
        const end = await run.end;
        throwIfCancelled(signal);
        const said = end.lastLines.join('\n');
        if (/No space left on device|Disk quota exceeded|File too large/i.test(said)) {
          throw targetFullFault(target, said);
        }
        if (end.exitCode !== 0) throw ffmpegFault(end, 'writing', target);
      } catch (error) {
        throw signal?.aborted ? new CancelledError() : error;
      } finally {
        await run.stop();
      }
    },
    signal,
  );
}

let known: { readonly path: string; readonly coder: readonly string[] } | undefined;

async function pictureCoder(ffmpeg: Ffmpeg): Promise<readonly string[]> {
  if (known?.path === ffmpeg.path) return known.coder;
  const { output } = await runFfmpeg(ffmpeg, ['-loglevel', 'error', '-encoders']);
  const coder = namesIn(output).has('libx264')
    ? ['-c:v', 'libx264', '-preset', 'veryfast', '-crf', '23']
    : ['-c:v', 'mpeg4', '-q:v', '4'];
  known = { path: ffmpeg.path, coder };
  return coder;
}

async function feed(run: RunningFfmpeg, pictures: PictureSource['pictures']): Promise<void> {
  const { stdin } = run;
  let gone = false;
  void run.end.then(() => {
    gone = true;
  });
  for await (const picture of pictures) {
    if (gone || stdin.destroyed) return;
    if (!stdin.write(picture)) await Promise.race([once(stdin, 'drain').catch(() => undefined), run.end]);
  }
  stdin.end();
}
