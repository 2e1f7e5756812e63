import {
  type ClipPicture,
  colourChain,
  deinterlaceFilters,
  scaleFilter,
  uprightFilters,
} from '../../core/picture/clip-picture.ts';
import type { ToneMeasure } from '../../core/picture/tone-match.ts';
import { findFfmpeg } from '../media/ffmpeg.ts';
import { fileArgument, startFfmpeg } from '../media/run.ts';
import { filtersOfFfmpeg } from './abilities.ts';

/** Side of the small pictures that are averaged, px. */
const SIDE_PX = 16;
const LUMA_BYTES = SIDE_PX * SIDE_PX;
const COLOUR_BYTES = LUMA_BYTES / 4;
const PICTURE_BYTES = LUMA_BYTES + 2 * COLOUR_BYTES;
/** Pictures that can be jumped to are enough, and no more of them than these. */
const MOST_PICTURES = 120;

/**
 * Mean tone of a clip over its pictures that can be jumped to, in BT.709 as the canvas shows them; null where none could
 * be decoded. Throws CancelledError or PartsongError 'ffmpeg-missing'.
 */
export async function measureTone(picture: ClipPicture, signal?: AbortSignal): Promise<ToneMeasure | null> {
  const filters = [
    ...deinterlaceFilters(picture),
    ...uprightFilters(picture, false),
    scaleFilter(picture, { widthPx: SIDE_PX, heightPx: SIDE_PX }).replace('bicubic', 'area'),
    ...colourChain(picture.colour, { filters: await filtersOfFfmpeg() }).filters,
  ];
  const input = [
    '-nostdin',
    '-loglevel',
    'error',
    '-skip_frame',
    'nokey',
    '-noautorotate',
    '-i',
    fileArgument(picture.file),
  ];
  const output = ['-frames:v', String(MOST_PICTURES), '-f', 'rawvideo', 'pipe:1'];
  const args = [...input, '-map', `0:${picture.streamIndex}`, '-vf', filters.join(','), ...output];
  const run = startFfmpeg(await findFfmpeg(), args, { signal });
  run.stdin.end();
  const parts: Buffer[] = [];
  for await (const part of run.stdout) parts.push(part as Buffer);
  await run.end;
  return meansOf(Buffer.concat(parts));
}

function meansOf(bytes: Buffer): ToneMeasure | null {
  const pictures = Math.floor(bytes.length / PICTURE_BYTES);
  if (pictures === 0) return null;
  const sums = [0, 0, 0];
  for (let n = 0; n < pictures * PICTURE_BYTES; n++) {
    const at = n % PICTURE_BYTES;
    sums[at < LUMA_BYTES ? 0 : at < LUMA_BYTES + COLOUR_BYTES ? 1 : 2]! += bytes[n]!;
  }
  const [luma, blue, red] = sums as [number, number, number];
  return {
    luma: luma / (pictures * LUMA_BYTES),
    blueDifference: blue / (pictures * COLOUR_BYTES),
    redDifference: red / (pictures * COLOUR_BYTES),
  };
}
