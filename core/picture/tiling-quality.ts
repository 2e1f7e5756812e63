import { aspectOf, type Box, type Size } from './canvas.ts';
import { croppedShare } from './crop.ts';

/**
 * How good a tiling is; each is 0 at best and below 1.
 * cost = waste + crop + spread / 4: a px of the canvas left empty weighs as much as a px of a clip cut away, and a tile
 * that is much smaller than the others is worth a quarter of that.
 */
export interface Quality {
  /** Share of the canvas that no tile covers. */
  readonly waste: number;
  /** Mean share of the clips' pictures that is cut off. */
  readonly crop: number;
  /** How uneven the tiles' areas are: 1 - smallest / largest, the lead left out. */
  readonly spread: number;
  readonly cost: number;
}

const SPREAD_WEIGHT = 0.25;

/** Measures a tiling. `leadIndex`: a tile that is meant to be larger than the others. */
export function qualityOf(
  canvas: Size,
  aspects: readonly number[],
  boxes: readonly Box[],
  leadIndex: number | undefined,
): Quality {
  let covered = 0;
  let cropped = 0;
  let smallest = Number.POSITIVE_INFINITY;
  let largest = 0;
  for (const [index, box] of boxes.entries()) {
    const areaPx = box.widthPx * box.heightPx;
    covered += areaPx;
    cropped += croppedShare(aspects[index]!, aspectOf(box));
    if (index === leadIndex) continue;
    smallest = Math.min(smallest, areaPx);
    largest = Math.max(largest, areaPx);
  }
  const waste = Math.max(0, 1 - covered / (canvas.widthPx * canvas.heightPx));
  const crop = boxes.length === 0 ? 0 : cropped / boxes.length;
  const spread = largest === 0 ? 0 : 1 - smallest / largest;
  return { waste, crop, spread, cost: waste + crop + SPREAD_WEIGHT * spread };
}

/** The one that costs less; the first where they cost the same. */
export function betterOf<T extends { readonly quality: Quality }>(one: T, other: T): T {
  return other.quality.cost < one.quality.cost - 1e-9 ? other : one;
}
