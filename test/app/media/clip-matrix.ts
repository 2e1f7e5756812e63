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

/** Makes a clip of each kind in a folder, under its name, with one start of FFmpeg: Debian's takes 0.15 s of processor time a start. */
export function makeKinds(ffmpeg: Ffmpeg, folder: string): void {
  const inputs: string[][] = [];
  const inputOf = (args: string[]): number => {
    const at = inputs.findIndex((known) => known.join(' ') === args.join(' '));
    return at < 0 ? inputs.push(args) - 1 : at;
  };
  const outputs = CLIP_KINDS.flatMap((kind) => {
    const wave = `source ${kind.rateHz} ${kind.channels}.wav`;
    const sound = ['-map', `${inputOf(['-i', wave])}:a`];
    writeWave(`${folder}/${wave}`, soundOfKind(kind), kind.rateHz);
    if (kind.picture === undefined) return [...sound, ...kind.encode, kind.name];
    const source = `testsrc=size=96x64:rate=30:duration=${CLIP_FRAMES / kind.rateHz}`;
    const picture = ['-map', `${inputOf(['-f', 'lavfi', '-i', source])}:v`, '-c:v', kind.picture];
    const quiet = kind.picture === 'libx265' ? ['-x265-params', 'log-level=error', '-tag:v', 'hvc1'] : [];
    const look = ['-preset', 'ultrafast', '-pix_fmt', 'yuv420p'];
    return [...sound, ...picture, ...look, ...quiet, ...kind.encode, kind.name];
  });
  make(ffmpeg, [...inputs.flat(), ...outputs], folder);
}
