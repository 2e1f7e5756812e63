import type { BannerStream } from './banner.ts';

/** Frames by which any AAC encoder's first sound comes late at the least: one transform block. ISO/IEC 14496-3. */
const AAC_PRIMING_FRAMES = 1024;
const AUDIO_ONLY_WITHOUT_TIME = /^(aac|mp3|flac|caf|wav|w64|aiff|au|amr|ogg|ac3|eac3|latm|loas)/;

/**
 * Raw AAC (ADTS), MPEG transport streams and Matroska without a codec delay do not tell how late their sound is. The
 * first block of any AAC stream is only half a transform, so at least that much is never sound.
 */
export function primingOf(format: string, stream: BannerStream, startSec: number | undefined): number {
  if (stream.codec !== 'aac' || /^mov,/.test(format)) return 0;
  const told = startSec !== undefined && startSec < 0;
  return told ? 0 : AAC_PRIMING_FRAMES;
}

/** Tells the user of encoder delay that was taken off. */
export function primingNote(format: string, frames: number): string {
  return `This kind of file (${format}) does not tell its encoder's delay; the ${frames} samples every AAC encoder adds were taken off.`;
}

/** What the stamps of a container may be off where it counts in milliseconds, s. */
const STAMP_SLACK_SEC = 0.0015;

/** Container time of clip time zero, s: for the sound (absent: wherever it begins) and for the picture. */
export interface Zero {
  readonly soundSec: number | undefined;
  readonly pictureSec: number;
}

/**
 * MP4 and QuickTime have a true zero. Files of sound alone that only count samples begin where they begin. A Matroska
 * writer that cannot go below zero starts AAC sound at 0 and so its first true sample late, and moves the picture along or
 * does not. Everything else (transport streams) begins anywhere: zero is the first thing seen or heard.
 */
export function zeroOf(
  format: string,
  startSec: number | undefined,
  primingSec: number,
  pictureSec: number | undefined,
): Zero {
  if (AUDIO_ONLY_WITHOUT_TIME.test(format) && pictureSec === undefined) return { soundSec: undefined, pictureSec: 0 };
  if (/^mov,/.test(format)) return { soundSec: 0, pictureSec: 0 };
  const firstSoundSec = (startSec ?? 0) + primingSec;
  const pictureMoved = pictureSec !== undefined && Math.abs(pictureSec - firstSoundSec) < STAMP_SLACK_SEC;
  if (/^matroska/.test(format)) {
    const late = primingSec > 0 && Math.abs(startSec ?? 0) < STAMP_SLACK_SEC;
    return { soundSec: late ? primingSec : 0, pictureSec: late && pictureMoved ? primingSec : 0 };
  }
  const zeroSec = pictureSec === undefined || pictureMoved ? firstSoundSec : Math.min(firstSoundSec, pictureSec);
  return { soundSec: zeroSec, pictureSec: zeroSec };
}
