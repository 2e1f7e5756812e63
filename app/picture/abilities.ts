import { execFile } from 'node:child_process';
import { encoderName, VIDEO_ENCODERS, type VideoEncoder } from '../../core/picture/output-arguments.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { findFfmpeg } from '../media/ffmpeg.ts';
import { namesIn } from '../media/ffmpeg-needs.ts';

const known = new Map<string, ReadonlySet<string>>();

/** Names of the filters of the FFmpeg in use; asked once for each FFmpeg. */
export async function filtersOfFfmpeg(): Promise<ReadonlySet<string>> {
  const { path } = await findFfmpeg();
  const filters = known.get(path) ?? namesIn(await ask(path, ['-filters']));
  known.set(path, filters);
  return filters;
}

/** FFmpeg 7.0 reads any option's value from a file (`-/option`), and no longer wants the older way; its libavutil is 59. */
const READS_FILES = 59;

/** The option by which an FFmpeg takes its graph from a file: `-filter_complex_script` up to 6.1. */
export async function graphFileOption({ path }: { readonly path: string }): Promise<string> {
  const major = Number(/libavutil\s+(\d+)\./.exec(await ask(path, ['-version']))?.[1]);
  return major >= READS_FILES ? '-/filter_complex' : '-filter_complex_script';
}

function ask(path: string, args: readonly string[]): Promise<string> {
  const options = { timeout: 20_000, encoding: 'utf8', maxBuffer: 2 ** 22 } as const;
  return new Promise((settle) => {
    execFile(path, ['-hide_banner', '-nostdin', ...args], options, (_error, stdout) => settle(stdout));
  });
}

/** FFmpegs that have encoded with x264, which needs no device that might go away. */
const haveX264 = new Set<string>();

/** True where this machine's FFmpeg can really encode with it: some pictures are tried, with x264 until it has worked once. */
export async function canEncode(encoder: VideoEncoder): Promise<boolean> {
  const { path } = await findFfmpeg();
  if (encoder !== 'x264') return hasEncoded(path, encoder);
  if (haveX264.has(path)) return true;
  const works = await hasEncoded(path, encoder);
  if (works) haveX264.add(path);
  return works;
}

function hasEncoded(path: string, encoder: VideoEncoder): Promise<boolean> {
  const source = ['-f', 'lavfi', '-i', 'color=c=gray:s=320x240:r=30:d=0.2'];
  const args = ['-v', 'error', ...source, '-pix_fmt', 'yuv420p', '-c:v', encoderName(encoder), '-f', 'null', '-'];
  return new Promise((settle) => {
    execFile(path, ['-hide_banner', '-nostdin', ...args], { timeout: 20_000 }, (error) => settle(error === null));
  });
}

/**
 * The encoder to use: x264 and those that are named if they work; 'hardware' is the first of the others that does, else
 * x264. Throws PartsongError 'bad-option' for one that does not work here, 'ffmpeg-failed' without x264.
 */
export async function chooseEncoder(wanted: VideoEncoder | 'hardware'): Promise<VideoEncoder> {
  if (wanted === 'hardware') {
    for (const encoder of VIDEO_ENCODERS) if (encoder !== 'x264' && (await canEncode(encoder))) return encoder;
    return 'x264';
  }
  if (await canEncode(wanted)) return wanted;
  const { path } = await findFfmpeg();
  throw wanted === 'x264'
    ? new PartsongError(
        'ffmpeg-failed',
        `The FFmpeg ${path} has no encoder for H.264 (libx264), so it can make no video.`,
        'Install a full FFmpeg, or set PARTSONG_FFMPEG to the path of one.',
      )
    : new PartsongError(
        'bad-option',
        `The encoder ${wanted} does not work on this computer with the FFmpeg ${path}.`,
        'Leave the choice out: x264 works everywhere.',
      );
}
