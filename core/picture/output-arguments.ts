import type { Size } from './canvas.ts';
import { type PictureRate, perSecond } from './picture-rate.ts';

/** mp4 for uploads; mkv as a master with lossless sound. */
export const CONTAINERS = ['mp4', 'mkv'] as const;
export type PictureContainer = (typeof CONTAINERS)[number];

/** x264 does it everywhere; the others need their maker's hardware and an FFmpeg that knows them. */
export const VIDEO_ENCODERS = ['x264', 'videotoolbox', 'nvenc', 'qsv', 'amf', 'mf'] as const;
export type VideoEncoder = (typeof VIDEO_ENCODERS)[number];

/** How much time is spent on making the file small. */
export const SPEEDS = ['quick', 'usual', 'careful'] as const;
export type EncodeSpeed = (typeof SPEEDS)[number];

export interface PictureOutput {
  readonly container: PictureContainer;
  readonly encoder: VideoEncoder;
  readonly speed: EncodeSpeed;
  /** Written into the file; empty: none. */
  readonly title: string;
}

const PRESETS: Readonly<Record<EncodeSpeed, string>> = { quick: 'veryfast', usual: 'medium', careful: 'slow' };
/** x264's measure of quality: 18 is told from the original by few, 12 by nobody. The master is to be coded again. */
const UPLOAD_CRF = 18;
const MASTER_CRF = 12;
/** A picture that can be jumped to every second, and no more often than twice. */
const KEY_SEC = 1;
const NEAREST_KEYS_SEC = 0.5;
/** AAC, kbit/s for both channels: far above where it is told from the original, and what uploads commonly take. */
export const AAC_KBPS = 320;

/** FFmpeg's name of an encoder. */
export function encoderName(encoder: VideoEncoder): string {
  return encoder === 'x264' ? 'libx264' : `h264_${encoder}`;
}

/**
 * Bits a second for encoders that are told no quality: 8 Mbit/s for 1080p at 30 pictures/s, 12 at 60 (common practice for
 * uploads), more px in the power of 3/4.
 */
export function bitsPerSec({ widthPx, heightPx }: Size, rate: PictureRate): number {
  const size = ((widthPx * heightPx) / (1920 * 1080)) ** 0.75;
  const speed = (perSecond(rate) / 30) ** 0.585;
  return Math.round(8e6 * size * speed);
}

/**
 * FFmpeg's arguments for the picture and the file: H.264 High, 4:2:0, BT.709 as tagged, closed groups of pictures of 0.5
 * to 1 s, the table of contents first; AAC-LC or FLAC of 24 bits at 48 kHz.
 */
export function outputArguments(output: PictureOutput, canvas: Size, rate: PictureRate, hasSound: boolean): string[] {
  const { container, title } = output;
  const key = Math.max(1, Math.round(perSecond(rate) * KEY_SEC));
  const nearest = Math.max(1, Math.ceil(perSecond(rate) * NEAREST_KEYS_SEC));
  return [
    ...videoArguments(output, canvas, rate),
    ...['-profile:v', 'high', '-pix_fmt', 'yuv420p'],
    ...['-g', String(key), '-keyint_min', String(Math.min(key, nearest)), '-flags:v', '+cgop+bitexact'],
    ...['-color_range', 'tv', '-color_primaries', 'bt709', '-color_trc', 'bt709', '-colorspace', 'bt709'],
    ...(hasSound ? soundArguments(container) : []),
    ...['-map_metadata', '-1', '-map_chapters', '-1', '-fflags', '+bitexact'],
    ...(title === '' ? [] : ['-metadata', `title=${title}`]),
    ...(container === 'mp4' ? ['-movflags', '+faststart', '-f', 'mp4'] : ['-f', 'matroska']),
  ];
}

/** The sound's part: what a check of the coded sound must use too. */
export function soundArguments(container: PictureContainer): string[] {
  return container === 'mp4'
    ? ['-c:a', 'aac', '-b:a', `${AAC_KBPS}k`, '-ar', '48000', '-ac', '2', '-flags:a', '+bitexact']
    : ['-c:a', 'flac', '-sample_fmt:a', 's32', '-bits_per_raw_sample:a', '24', '-ar', '48000', '-flags:a', '+bitexact'];
}

function videoArguments({ container, encoder, speed }: PictureOutput, canvas: Size, rate: PictureRate): string[] {
  const name = ['-c:v', encoderName(encoder)];
  const isMaster = container === 'mkv';
  const bits = String(bitsPerSec(canvas, rate) * (isMaster ? 4 : 2));
  switch (encoder) {
    case 'x264':
      return [...name, '-preset', PRESETS[speed], '-crf', String(isMaster ? MASTER_CRF : UPLOAD_CRF), '-bf', '2'];
    case 'nvenc':
      return [...name, '-preset', speed === 'quick' ? 'fast' : 'slow', '-b:v', bits];
    case 'qsv':
    case 'amf':
    case 'mf':
      return [...name, '-b:v', bits];
    case 'videotoolbox':
      return [...name, '-b:v', bits, '-bf', '2'];
  }
}
