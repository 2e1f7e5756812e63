import type { Size } from '../../core/picture/canvas.ts';
import { evenPx } from '../../core/picture/canvas.ts';
import {
  type ClipPicture,
  colourChain,
  deinterlaceFilters,
  highRangeOf,
  scaleFilter,
  shownSize,
} from '../../core/picture/clip-picture.ts';
import { CancelledError, throwIfCancelled } from '../../core/signal/fault.ts';
import { findFfmpeg } from '../media/ffmpeg.ts';
import { ffmpegFault, fileArgument, startFfmpeg } from '../media/run.ts';
import { targetFullFault, writeWhole } from '../media/whole-file.ts';
import { filtersOfFfmpeg } from './abilities.ts';

/** Shorter side of a small copy, px: tiles on the screen are seldom larger. */
const PROXY_PX = 360;
const FASTEST_PROXY = 30;
/** Codecs that pages decode without help of the system. */
const PLAYED: ReadonlySet<string> = new Set(['h264', 'vp8', 'vp9', 'av1']);

/** True where a page can be expected to play the clip's picture. */
export function playsInPage(picture: ClipPicture, codec: string): boolean {
  return PLAYED.has(codec) && highRangeOf(picture.colour) === undefined;
}

/** Size of a small copy, px. */
export function proxySize(picture: ClipPicture): Size {
  const shown = shownSize(picture);
  const share = Math.min(1, PROXY_PX / Math.min(shown.widthPx, shown.heightPx));
  const side = (px: number): number => Math.max(2, evenPx(px * share));
  return { widthPx: side(shown.widthPx), heightPx: side(shown.heightPx) };
}

/** FFmpeg's arguments for a small copy, without the target. */
export function proxyArguments(picture: ClipPicture, filters: ReadonlySet<string>): string[] {
  const rate = picture.rate > 0 ? Math.min(FASTEST_PROXY, Math.max(1, Math.round(picture.rate))) : FASTEST_PROXY;
  const chain = [
    ...deinterlaceFilters(picture),
    ...(picture.zeroSec === 0 ? [] : [`setpts=PTS-${picture.zeroSec.toFixed(6)}/TB`]),
    scaleFilter(picture, proxySize(picture)),
    'setsar=1',
    ...colourChain(picture.colour, { filters }).filters,
    // From the clip's time zero on, whenever its picture begins.
    `fps=fps=${rate}:start_time=0`,
  ];
  return [
    // FFmpeg turns the picture itself: turned by filters of ours, the copy would still tell to be turned, and lie on its side.
    ...['-nostdin', '-loglevel', 'warning', '-nostats', '-copyts'],
    ...['-protocol_whitelist', 'file,pipe', '-i', fileArgument(picture.file)],
    ...['-map', `0:${picture.streamIndex}`, '-vf', chain.join(',')],
    ...['-an', '-sn', '-dn', '-map_metadata', '-1'],
    // Short groups of pictures, so that a place is found at once.
    ...['-c:v', 'libx264', '-preset', 'superfast', '-tune', 'fastdecode', '-crf', '26', '-bf', '0'],
    ...['-g', String(Math.ceil(rate / 2)), '-threads', '2', '-pix_fmt', 'yuv420p'],
    ...['-color_range', 'tv', '-color_primaries', 'bt709', '-color_trc', 'bt709', '-colorspace', 'bt709'],
    ...['-movflags', '+faststart', '-f', 'mp4', '-y'],
  ];
}

/**
 * Writes a small copy of a clip's picture: upright, BT.709, an even rate, its time zero the clip's. Throws CancelledError,
 * PartsongError 'target-full' | 'target-unwritable' | 'ffmpeg-missing' | 'ffmpeg-failed'.
 */
export async function makeProxy(
  picture: ClipPicture,
  target: string,
  signal: AbortSignal,
  onProgress: (fraction: number) => void,
): Promise<void> {
  throwIfCancelled(signal);
  const ffmpeg = await findFfmpeg();
  const args = proxyArguments(picture, await filtersOfFfmpeg());
  await writeWhole(
    target,
    async (partialPath) => {
      const onLine = (line: string): boolean => {
        const told = /^([a-z_0-9]+)=\s*(.*)$/.exec(line);
        if (told?.[1] === 'out_time_us')
          onProgress(Math.min(1, Math.max(0, Number(told[2]) / 1e6 / picture.endSec) || 0));
        return told !== null;
      };
      const run = startFfmpeg(ffmpeg, ['-progress', 'pipe:2', ...args, fileArgument(partialPath)], { signal, onLine });
      run.stdin.end();
      run.stdout.resume();
      try {
        const end = await run.end;
        throwIfCancelled(signal);
        const said = end.lastLines.join('\n');
        if (/No space left on device|Disk quota exceeded/i.test(said)) throw targetFullFault(target, said);
        if (end.exitCode !== 0) throw ffmpegFault(end, 'making a small copy of', picture.file);
      } catch (error) {
        throw signal.aborted ? new CancelledError() : error;
      } finally {
        await run.stop();
      }
    },
    signal,
  );
}
