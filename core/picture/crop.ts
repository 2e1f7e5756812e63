import { assertInRange } from '../signal/fault.ts';
import { aspectOf, type Box, evenBelowPx, evenPx, type Size } from './canvas.ts';

/** How a clip's picture is set into its tile. */
export interface Crop {
  /** The point of the clip that is to stay in view, 0 to 1 from its left and upper edge. */
  readonly focusX: number;
  readonly focusY: number;
  /** 1 shows as much of the clip as the tile's shape allows; 2 half as much across, and so on; 1 to 8. */
  readonly zoom: number;
}

export const CENTRED: Crop = { focusX: 0.5, focusY: 0.5, zoom: 1 };
/** Faces sit above the middle of an upright picture; a little above it is kept when it is cut for a flat tile. */
export const UPRIGHT_FOCUS_Y = 0.42;
export const LARGEST_ZOOM = 8;
/** The smallest part of a clip that is shown, px. */
const SMALLEST_CUT_PX = 16;

/**
 * The part of a clip that fills a tile without distortion, even px in the clip's shown (turned) picture: the largest
 * rectangle of the tile's shape, made smaller by the zoom, as near around the focus as the clip's edges allow.
 * Gives whole px: the shape is kept to within 2 px.
 */
export function cutFor(clip: Size, tile: Size, crop: Crop): Box {
  assertInRange('zoom', crop.zoom, 1, LARGEST_ZOOM);
  assertInRange('focusX', crop.focusX, 0, 1);
  assertInRange('focusY', crop.focusY, 0, 1);
  const shape = aspectOf(tile);
  const wide = aspectOf(clip) > shape;
  const widthPx = sideOf((wide ? clip.heightPx * shape : clip.widthPx) / crop.zoom, clip.widthPx);
  const heightPx = sideOf((wide ? clip.heightPx : clip.widthPx / shape) / crop.zoom, clip.heightPx);
  return {
    xPx: edgeOf(crop.focusX, widthPx, clip.widthPx),
    yPx: edgeOf(crop.focusY, heightPx, clip.heightPx),
    widthPx,
    heightPx,
  };
}

function sideOf(wantedPx: number, wholePx: number): number {
  const most = evenBelowPx(wholePx);
  return Math.min(most, Math.max(Math.min(SMALLEST_CUT_PX, most), evenPx(wantedPx)));
}

function edgeOf(focus: number, sidePx: number, wholePx: number): number {
  return Math.max(0, Math.min(evenBelowPx(wholePx - sidePx), evenPx(focus * wholePx - sidePx / 2)));
}

/** Share of a clip's picture that is not shown in a tile of another shape, 0 to 1 (zoom 1). */
export function croppedShare(clipAspect: number, tileAspect: number): number {
  return 1 - Math.min(clipAspect / tileAspect, tileAspect / clipAspect);
}
