import { aspectOf, type Box, type Size } from './canvas.ts';
import {
  type ClipPicture,
  colourChain,
  cutFilter,
  deinterlaceFilters,
  type PictureAbilities,
  scaleFilter,
  shownSize,
  uprightFilters,
} from './clip-picture.ts';
import { CENTRED, type Crop, cutFor, UPRIGHT_FOCUS_Y } from './crop.ts';
import { type PictureRate, perSecond, rateText } from './picture-rate.ts';
import { type Place, seekSec, stampExpression } from './picture-time.ts';
import { type ToneChange, toneFilter } from './tone-match.ts';

/** A clip's part of the graph: from its file to pictures of a tile's size at the canvas's times. */
export interface ClipChain {
  /** FFmpeg's options before the input. */
  readonly options: readonly string[];
  readonly filters: readonly string[];
  readonly cut: Box;
  readonly note: string | undefined;
}

export interface ClipChainRequest {
  readonly picture: ClipPicture;
  readonly place: Place;
  /** Size of the tile, px. */
  readonly size: Size;
  readonly crop: Crop | undefined;
  readonly mirrored: boolean;
  readonly tone: ToneChange | null;
  readonly rate: PictureRate;
  /** Session time of the first picture that is wanted, s, and how many. */
  readonly fromSec: number;
  readonly pictures: number;
  readonly abilities: PictureAbilities;
}

/**
 * Container time decides: each picture keeps its stamp, is put where its sound lies, and is shown by the canvas's picture
 * that is nearest (fps, rounding to near), so that uneven and other rates stay in time. What a clip does not have is held:
 * its first picture before it begins, its last one after it has ended. Rates higher than the canvas's are thinned before
 * scaling, lower ones repeated after it.
 */
export function clipChain(request: ClipChainRequest): ClipChain {
  const { picture, place, size, mirrored, rate, fromSec, pictures, abilities } = request;
  const shown = shownSize(picture);
  const cut = cutFor(shown, size, request.crop ?? usualCrop(shown, size));
  const colours = colourChain(picture.colour, abilities);
  const fps = `fps=fps=${rateText(rate)}:start_time=0:round=near`;
  const isFaster = picture.rate > perSecond(rate) * 1.01;
  const seek = seekSec(picture, place, fromSec);
  return {
    options: [
      ...(seek === undefined ? [] : ['-noaccurate_seek', '-seek_timestamp', '1', '-ss', seek.toFixed(6)]),
      '-noautorotate',
    ],
    filters: [
      ...deinterlaceFilters(picture),
      'settb=expr=1/1000000',
      `setpts=${stampExpression(picture, place, fromSec)}`,
      ...(isFaster ? [fps] : []),
      ...uprightFilters(picture, mirrored),
      ...cutFilter(picture, cut),
      scaleFilter(picture, size),
      'setsar=1',
      ...colours.filters,
      ...(request.tone === null ? [] : [toneFilter(request.tone)]),
      ...(isFaster ? [] : [fps]),
      `tpad=stop_mode=clone:stop=${pictures}`,
      `trim=end_frame=${pictures}`,
    ],
    cut,
    note: colours.note,
  };
}

/** The crop that is taken when none was settled: faces sit above the middle of upright clips, which a flat tile cuts. */
export function usualCrop(shown: Size, tile: Size): Crop {
  return aspectOf(shown) < 1 && aspectOf(tile) > aspectOf(shown) ? { ...CENTRED, focusY: UPRIGHT_FOCUS_Y } : CENTRED;
}
