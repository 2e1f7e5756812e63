import { extname } from 'node:path';
import { PartsongError } from '../../core/signal/fault.ts';
import { findFfmpeg } from '../media/ffmpeg.ts';
import { ffmpegFault, fileArgument, runFfmpeg } from '../media/run.ts';
import { writeWhole } from '../media/whole-file.ts';

const STILL = /^\.(jpe?g|png)$/i;

/** Refuses a name for a still that is neither JPEG nor PNG. Throws PartsongError 'bad-option'. */
export function refuseStillName(target: string): void {
  if (STILL.test(extname(target))) return;
  throw new PartsongError(
    'bad-option',
    `${target} is no name for a cover: its ending says neither JPEG nor PNG.`,
    'Let it end in .jpg or .png.',
    target,
  );
}

/**
 * Writes one picture of a video as JPEG or PNG, by the target's ending. `atSec`: time in the video. Throws PartsongError
 * or CancelledError.
 */
export async function writeStill(video: string, atSec: number, target: string, signal?: AbortSignal): Promise<void> {
  refuseStillName(target);
  const ffmpeg = await findFfmpeg();
  const isPng = extname(target).toLowerCase() === '.png';
  const coded = isPng ? ['-c:v', 'png'] : ['-c:v', 'mjpeg', '-q:v', '2', '-pix_fmt', 'yuvj420p'];
  await writeWhole(
    target,
    async (partialPath) => {
      const input = ['-nostdin', '-loglevel', 'error', '-ss', atSec.toFixed(6), '-i', fileArgument(video)];
      const args = [...input, '-map', '0:v:0', '-frames:v', '1', ...coded, '-f', 'image2', '-update', '1', '-y'];
      const end = await runFfmpeg(ffmpeg, [...args, fileArgument(partialPath)], { signal });
      if (end.exitCode !== 0) throw ffmpegFault(end, 'taking a still of', video);
    },
    signal,
  );
}
