import type { Ffmpeg } from '../../../app/media/ffmpeg.ts';
import { make, strokes, writeWave } from './clip-kit.ts';

/** One kind of clip: how it is made, and how exactly its sound must lie. */
export interface ClipKind {
  readonly name: string;
  readonly rateHz: number;
  readonly channels: 1 | 2;
  /** FFmpeg's arguments after the input. */
  readonly encode: readonly string[];
  /** Every sample is kept. */
  readonly isExact: boolean;
  /** H.264 or HEVC beside it. */
  readonly picture?: 'libx264' | 'libx265';
  /** The container tells where the sound ends. */
  readonly tellsEnd: boolean;
}

const AAC = ['-c:a', 'aac', '-b:a', '192k'];

/** What phones and recorders write. */
export const CLIP_KINDS: readonly ClipKind[] = [
  { name: 'aac.m4a', rateHz: 48000, channels: 1, encode: AAC, isExact: false, tellsEnd: true },
  { name: 'aac 44.m4a', rateHz: 44100, channels: 2, encode: AAC, isExact: false, tellsEnd: true },
  { name: 'h264.mp4', rateHz: 48000, channels: 2, encode: AAC, isExact: false, picture: 'libx264', tellsEnd: true },
  { name: 'h264 44.mov', rateHz: 44100, channels: 1, encode: AAC, isExact: false, picture: 'libx264', tellsEnd: true },
  { name: 'hevc.mov', rateHz: 48000, channels: 1, encode: AAC, isExact: false, picture: 'libx265', tellsEnd: true },
  { name: 'aac.3gp', rateHz: 48000, channels: 1, encode: AAC, isExact: false, tellsEnd: true },
  { name: 'adts.aac', rateHz: 48000, channels: 1, encode: AAC, isExact: false, tellsEnd: false },
  { name: 'aac.mkv', rateHz: 48000, channels: 1, encode: AAC, isExact: false, tellsEnd: false },
  { name: 'h264.mkv', rateHz: 44100, channels: 1, encode: AAC, isExact: false, picture: 'libx264', tellsEnd: false },
  { name: 'alac.m4a', rateHz: 48000, channels: 2, encode: ['-c:a', 'alac'], isExact: true, tellsEnd: true },
  { name: 'alac.caf', rateHz: 44100, channels: 1, encode: ['-c:a', 'alac'], isExact: true, tellsEnd: true },
  { name: 'pcm.caf', rateHz: 48000, channels: 2, encode: ['-c:a', 'pcm_s24be'], isExact: true, tellsEnd: true },
  { name: 'pcm.mov', rateHz: 96000, channels: 1, encode: ['-c:a', 'pcm_s24le'], isExact: true, tellsEnd: true },
  { name: 'pcm.wav', rateHz: 44100, channels: 2, encode: ['-c:a', 'pcm_s24le'], isExact: true, tellsEnd: true },
  { name: 'adpcm.wav', rateHz: 44100, channels: 1, encode: ['-c:a', 'adpcm_ms'], isExact: false, tellsEnd: false },
  { name: 'flac.flac', rateHz: 96000, channels: 2, encode: ['-c:a', 'flac'], isExact: true, tellsEnd: true },
  { name: 'lame.mp3', rateHz: 44100, channels: 2, encode: ['-b:a', '256k'], isExact: false, tellsEnd: true },
  { name: 'vorbis.ogg', rateHz: 44100, channels: 1, encode: ['-c:a', 'libvorbis'], isExact: false, tellsEnd: true },
  { name: 'opus.ogg', rateHz: 48000, channels: 1, encode: ['-c:a', 'libopus'], isExact: false, tellsEnd: true },
  { name: 'opus.opus', rateHz: 48000, channels: 2, encode: ['-c:a', 'libopus'], isExact: false, tellsEnd: true },
];

/** Length of the clips, frames: no whole number of any codec's blocks. */
export const CLIP_FRAMES = 100_777;

/** The sound in a clip of this kind. */
export function soundOfKind(kind: ClipKind): Float32Array[] {
  return strokes(CLIP_FRAMES, kind.channels, kind.rateHz, kind.rateHz + kind.channels);
}

/** Makes the clip in a folder; gives its name. */
export function makeKind(kind: ClipKind, ffmpeg: Ffmpeg, folder: string): string {
  const wave = `source ${kind.rateHz} ${kind.channels}.wav`;
  writeWave(`${folder}/${wave}`, soundOfKind(kind), kind.rateHz);
  const lengthSec = CLIP_FRAMES / kind.rateHz;
  const picture =
    kind.picture === undefined
      ? []
      : ['-f', 'lavfi', '-i', `testsrc=size=96x64:rate=30:duration=${lengthSec}`, '-pix_fmt', 'yuv420p'];
  const video =
    kind.picture === undefined ? [] : ['-map', '0:a', '-map', '1:v', '-c:v', kind.picture, '-preset', 'ultrafast'];
  const quiet = kind.picture === 'libx265' ? ['-x265-params', 'log-level=error', '-tag:v', 'hvc1'] : [];
  const [inputs, format] = [picture.slice(0, 4), picture.slice(4)];
  make(ffmpeg, ['-i', wave, ...inputs, ...video, ...format, ...quiet, ...kind.encode, kind.name], folder);
  return `${folder}/${kind.name}`;
}
