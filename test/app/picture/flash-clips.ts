import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import type { Ffmpeg } from '../../../app/media/ffmpeg.ts';
import type { Box } from '../../../core/picture/canvas.ts';
import { Random } from '../../../core/signal/random.ts';
import { make, writeWave } from '../media/clip-kit.ts';

/** A clip whose picture flashes white for 0.1 s at the very pictures where its sound claps. */
export interface FlashClip {
  readonly name: string;
  /** Pictures per second, as FFmpeg writes it. */
  readonly rate: string;
  readonly size: string;
  /** More arguments for the picture's filters, after the flashes. */
  readonly filter?: string;
  /** FFmpeg's arguments before the inputs of picture and sound: a stream that starts late. */
  readonly pictureInput?: readonly string[];
  readonly soundInput?: readonly string[];
  readonly output?: readonly string[];
}

const ENDINGS: Readonly<Record<string, string>> = { mov: '.mov', matroska: '.mkv', mpegts: '.ts' };

export const CLAPS_NEAR_SEC = [0.9, 5.1, 9.2] as const;
export const CLIP_SEC = 10;

/** Times of the first pictures of the flashes, by the picture's own count, s. */
export function flashesOf(rate: string): number[] {
  const [over, under = 1] = rate.split('/').map(Number) as [number, number?];
  return CLAPS_NEAR_SEC.map((near) => (Math.round((near * over) / under) * under) / over);
}

/**
 * Makes the clip; gives its path and its sound before coding. Claps are bursts of noise of 20 ms that begin at the
 * flashes' first pictures.
 */
export function makeFlashClip(ffmpeg: Ffmpeg, folder: string, clip: FlashClip): { path: string; sound: Float32Array } {
  const times = flashesOf(clip.rate);
  const random = new Random(clip.name.length);
  const sound = new Float32Array(CLIP_SEC * 48000);
  for (const time of times) addClap(sound, time, random);
  writeWave(`${folder}/${clip.name}.wav`, [sound], 48000);
  const lit = times.map((time) => `between(t,${(time - 0.002).toFixed(5)},${(time + 0.098).toFixed(5)})`).join('+');
  const black = `color=c=0x101010:s=${clip.size}:r=${clip.rate}:d=${CLIP_SEC}`;
  const flashing = `${black},drawbox=x=0:y=0:w=iw:h=ih:t=fill:color=white:enable='${lit}'`;
  const picture = clip.filter === undefined ? flashing : `${flashing},${clip.filter}`;
  const container = clip.output?.find((word) => word in ENDINGS) ?? 'mov';
  const target = `${clip.name}${ENDINGS[container]}`;
  make(
    ffmpeg,
    [
      ...[...(clip.pictureInput ?? []), '-f', 'lavfi', '-i', picture],
      ...[...(clip.soundInput ?? []), '-i', `${clip.name}.wav`],
      ...[
        '-c:v',
        'libx264',
        '-preset',
        'ultrafast',
        '-pix_fmt',
        'yuv420p',
        '-bf',
        '2',
        '-g',
        '45',
        '-c:a',
        'aac',
        '-b:a',
        '128k',
      ],
      ...['-vsync', 'vfr', ...(clip.output ?? []), target],
    ],
    folder,
  );
  return { path: `${folder}/${target}`, sound };
}

/** Adds a clap to sound at 48 kHz, beginning at a time to a fraction of a frame. */
export function addClap(sound: Float32Array, atSec: number, random: Random): void {
  const from = Math.round(atSec * 48000);
  for (let n = 0; n < 960 && from + n < sound.length; n++)
    sound[from + n]! += 0.4 * Math.exp(-n / 300) * random.gaussian();
}

/** Times of the pictures at which a part of a video turns light, s; by Debian's tools, from the file's own stamps. */
export function flashesIn(
  video: string,
  canvas: { widthPx: number; heightPx: number },
  boxes: readonly Box[],
): number[][] {
  const stamps = spawnSync(
    'ffprobe',
    ['-v', 'error', '-select_streams', 'v:0', '-show_entries', 'frame=pts_time', '-of', 'csv=p=0', video],
    { encoding: 'utf8', maxBuffer: 2 ** 26 },
  )
    .stdout.split('\n')
    .filter((line) => /^\d/.test(line))
    .map((line) => Number.parseFloat(line));
  const across = 64;
  const down = Math.round((across * canvas.heightPx) / canvas.widthPx);
  const raw = spawnSync(
    'ffmpeg',
    [
      '-v',
      'error',
      '-i',
      video,
      '-vf',
      `scale=${across}:${down}:flags=area,format=gray`,
      '-f',
      'rawvideo',
      '-vsync',
      '0',
      '-',
    ],
    { maxBuffer: 2 ** 28 },
  ).stdout;
  return boxes.map((box) => {
    const times: number[] = [];
    let wasLight = false;
    for (const [index, time] of stamps.entries()) {
      const isLight = meanOf(raw, index * across * down, across, down, canvas, box) > 120;
      if (isLight && !wasLight) times.push(time);
      wasLight = isLight;
    }
    return times;
  });
}

function meanOf(
  raw: Buffer,
  from: number,
  across: number,
  down: number,
  canvas: { widthPx: number; heightPx: number },
  box: Box,
): number {
  // The inner half of a tile, well away from its neighbours.
  const left = Math.ceil(((box.xPx + box.widthPx / 4) * across) / canvas.widthPx);
  const right = Math.floor(((box.xPx + (3 * box.widthPx) / 4) * across) / canvas.widthPx);
  const top = Math.ceil(((box.yPx + box.heightPx / 4) * down) / canvas.heightPx);
  const bottom = Math.floor(((box.yPx + (3 * box.heightPx) / 4) * down) / canvas.heightPx);
  let sum = 0;
  let count = 0;
  for (let y = top; y < Math.max(top + 1, bottom); y++) {
    for (let x = left; x < Math.max(left + 1, right); x++, count++) sum += raw[from + y * across + x] ?? 0;
  }
  return sum / count;
}

/** Writes into a file's head that its picture is to be turned a quarter clockwise (ISO/IEC 14496-12, tkhd matrix). */
export function turnClip(path: string, heightPx: number): void {
  const bytes = readFileSync(path);
  for (let at = bytes.indexOf('tkhd'); at >= 0; at = bytes.indexOf('tkhd', at + 4)) {
    if (bytes.readUInt32BE(at + 80) === 0) continue;
    const one = 0x10000;
    for (const [n, value] of [0, one, 0, -one, 0, 0, heightPx * one, 0, 0x40000000].entries()) {
      bytes.writeInt32BE(value, at + 44 + 4 * n);
    }
  }
  writeFileSync(path, bytes);
}
