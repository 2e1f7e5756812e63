import type { ClipPicture } from '../../core/picture/clip-picture.ts';
import type { ClipFacts } from '../media/probe.ts';

/** Nominal rates above this are steps of a clock, not rates of pictures. */
const HIGHEST_NOMINAL = 250;
/** Mean and nominal rate of a clip with even pictures differ by less, as a share. */
const EVEN_SHARE = 0.004;

/** Codecs of cameras that film fields. */
const INTERLACED_CODECS = /^(h264|mpeg2video|mpeg4|dvvideo|mjpeg|prores)/;

/** What a canvas has to know of a clip's picture; null for a clip that is sound alone, or whose picture this
 * FFmpeg has no decoder for. Its times are clip times. */
export function clipPictureOf(facts: ClipFacts): ClipPicture | null {
  const { video, chosenAudio } = facts;
  if (video === undefined || video.width === 0 || video.height === 0) return null;
  if (video.codec === 'none' || video.codec === 'unknown') return null;
  const { nominalRate, rate, isInterlaced } = video;
  const told = nominalRate > 0 && nominalRate <= HIGHEST_NOMINAL;
  // Fields of interlaced pictures are counted one by one by some builds.
  const isUneven = told && !isInterlaced && rate > 0 && Math.abs(rate / nominalRate - 1) > EVEN_SHARE;
  const endSec = video.endSec ?? (facts.lengthSec > 0 ? facts.lengthSec : Number.POSITIVE_INFINITY);
  return {
    file: facts.file,
    streamIndex: video.index,
    zeroSec: facts.zeroSec,
    startSec: video.startSec,
    endSec,
    rate: isUneven ? nominalRate : rate,
    isUneven,
    coded: { widthPx: video.width, heightPx: video.height },
    dotAspect: video.dotAspect,
    rotationDeg: video.rotationDeg,
    isInterlaced,
    mayBeInterlaced: !video.isProgressive && INTERLACED_CODECS.test(video.codec),
    colour: video.colour,
    canSeek: /^(mov|matroska)/.test(facts.container),
    ...(chosenAudio.pace === undefined ? {} : { soundPpm: chosenAudio.pace.ppm }),
    // Both ends from the file's own tables, or neither.
    ...(chosenAudio.endSec === undefined || video.endSec === undefined ? {} : { soundEndSec: chosenAudio.endSec }),
  };
}
