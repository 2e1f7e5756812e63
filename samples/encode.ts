import { spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { keepFilter, type PicturePlan } from './picture.ts';

/** The FFmpeg to encode with: the one of the environment variable SAMPLE_FFMPEG, else the system's, else the bundled. */
export function findEncoder(): string {
  const asked = process.env['SAMPLE_FFMPEG'];
  if (asked) return asked;
  if (spawnSync('ffmpeg', ['-version'], { stdio: 'ignore' }).status === 0) return 'ffmpeg';
  const installer = createRequire(import.meta.url)('@ffmpeg-installer/ffmpeg') as { path: string };
  return installer.path;
}

/** Sound to encode: interleaved 16 bit. */
export interface SoundToEncode {
  readonly samples: Int16Array;
  readonly rateHz: number;
  readonly channels: number;
  readonly bitRateKbps: number;
}

/** Pictures to encode: `count` of them, each drawn into the buffer when its turn comes. */
export interface PicturesToEncode {
  readonly plan: PicturePlan;
  readonly count: number;
  readonly draw: (n: number, target: Uint8Array) => void;
}

/**
 * Encodes AAC, with H.264 beside it when there are pictures, into `target`. `scratchFolder` takes the raw sound.
 * Throws an Error with FFmpeg's own words when it fails.
 */
export async function encode(
  ffmpeg: string,
  sound: SoundToEncode,
  pictures: PicturesToEncode | null,
  target: string,
  scratchFolder: string,
): Promise<void> {
  const raw = join(scratchFolder, 'sound.s16');
  writeFileSync(raw, new Uint8Array(sound.samples.buffer, sound.samples.byteOffset, sound.samples.byteLength));
  const soundInput = ['-f', 's16le', '-ar', `${sound.rateHz}`, '-ac', `${sound.channels}`, '-i', raw];
  const soundOutput = ['-c:a', 'aac', '-b:a', `${sound.bitRateKbps}k`];
  const common = ['-fflags', '+bitexact', '-flags:a', '+bitexact', '-map_metadata', '-1', '-movflags', '+faststart'];
  const args = ['-v', 'error', '-y', ...soundInput, ...pictureArgs(pictures), ...soundOutput, ...common, target];
  const child = spawn(ffmpeg, args, { stdio: ['pipe', 'ignore', 'pipe'] });
  let words = '';
  child.stderr.on('data', (chunk: Buffer) => {
    words += chunk.toString();
  });
  const closed = once(child, 'close');
  child.stdin.on('error', () => {
    // FFmpeg went away; its exit status below tells why.
  });
  if (pictures) {
    const { width, height } = pictures.plan;
    for (let n = 0; n < pictures.count; n++) {
      const picture = new Uint8Array(width * height * 3);
      pictures.draw(n, picture);
      if (!child.stdin.write(picture)) await Promise.race([once(child.stdin, 'drain'), closed]);
    }
  }
  child.stdin.end();
  const [status] = (await closed) as [number | null];
  if (status !== 0) throw new Error(`${ffmpeg} ended with ${status} at ${target}: ${words}`);
  if (pictures?.plan.rotationDegrees === 90) markTurned(target, pictures.plan.height);
}

function pictureArgs(pictures: PicturesToEncode | null): string[] {
  if (!pictures) return ['-map', '0:a'];
  const { plan } = pictures;
  const filter = keepFilter(plan);
  return [
    ...['-f', 'rawvideo', '-pix_fmt', 'rgb24', '-s', `${plan.width}x${plan.height}`, '-r', `${plan.ratePerSec}`],
    ...['-i', 'pipe:0', '-map', '1:v', '-map', '0:a'],
    ...(filter ? ['-vf', filter, '-vsync', 'vfr'] : []),
    ...[
      '-c:v',
      'libx264',
      '-preset',
      'slow',
      '-crf',
      '31',
      '-pix_fmt',
      'yuv420p',
      '-threads',
      '1',
      '-flags:v',
      '+bitexact',
    ],
  ];
}

/**
 * Writes the turn by 90 degrees clockwise into the header of the first track, as a telephone held upright does. By hand,
 * because FFmpeg's option for it differs between versions. Source: ISO/IEC 14496-12, track header box, matrix.
 */
function markTurned(file: string, storedHeight: number): void {
  const bytes = readFileSync(file);
  const header = bytes.indexOf('tkhd');
  if (header < 0 || bytes[header + 4] !== 0) throw new Error(`${file}: no track header of version 0`);
  const one = 0x10000;
  const matrix = [0, one, 0, -one, 0, 0, storedHeight * one, 0, 0x40000000];
  for (const [i, value] of matrix.entries()) bytes.writeInt32BE(value, header + 44 + 4 * i);
  writeFileSync(file, bytes);
}
