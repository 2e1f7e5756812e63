import type { ClipPicture } from '../../../core/picture/clip-picture.ts';

/** A plain clip of a phone: 1080p30, tagged BT.709, 60 s; with what a test needs otherwise. */
export function clipPicture(changes: Partial<ClipPicture> = {}): ClipPicture {
  return {
    file: '/clips/one.mp4',
    streamIndex: 0,
    zeroSec: 0,
    startSec: 0,
    endSec: 60,
    rate: 30,
    isUneven: false,
    coded: { widthPx: 1920, heightPx: 1080 },
    dotAspect: 1,
    rotationDeg: 0,
    isInterlaced: false,
    colour: { matrix: 'bt709', primaries: 'bt709', transfer: 'bt709', range: 'tv' },
    canSeek: true,
    ...changes,
  };
}
