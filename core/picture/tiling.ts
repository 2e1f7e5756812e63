import { PartsongError } from '../signal/fault.ts';
import { type Box, EVEN_PX, type Size, sizeInWords } from './canvas.ts';
import { betterOf, type Quality, qualityOf } from './tiling-quality.ts';
import { leadTilings } from './tilings/lead.ts';
import { ranks } from './tilings/ranks.ts';
import { rows } from './tilings/rows.ts';
import { strips } from './tilings/strip.ts';

/** rows: they fill the canvas; lead: one large, the others around it; ranks: as a choir stands; strip: side by side. */
export const TILING_KINDS = ['rows', 'lead', 'ranks', 'strip'] as const;
export type TilingKind = (typeof TILING_KINDS)[number];

export interface TilingOptions {
  readonly kind: TilingKind;
  /** Between tiles, px, even. */
  readonly gapPx: number;
  /** Between the tiles and the canvas's edge, px, even. */
  readonly marginPx: number;
  /** Which of the voices leads; for 'lead', and in front for 'ranks'. */
  readonly leadIndex?: number | undefined;
  /** Largest share of a clip that may be cut off to fill space, 0 (none) to 1. What is not filled is background. */
  readonly mostCrop: number;
}

/** Where the tiles lie. */
export interface Tiling {
  readonly kind: TilingKind;
  /** One box a voice, in the voices' order. */
  readonly boxes: readonly Box[];
  readonly quality: Quality;
}

/** What no tile may be smaller than, px. */
export const SMALLEST_TILE_PX = 16;
/**
 * Share of a clip that may be cut off when nothing else is said: a flat phone clip (16:9) may become a square, an upright
 * one (9:16) too, and neither the other.
 */
export const MOST_CROP = 0.45;

/** Gap and margin that suit a canvas: 0.6 % of its shorter side, px. */
export function usualGapPx(canvas: Size): number {
  return EVEN_PX * Math.max(1, Math.round((0.006 * Math.min(canvas.widthPx, canvas.heightPx)) / EVEN_PX));
}

/**
 * Lays tiles for clips of the given shapes (width to height, as shown) on a canvas, in the order of the voices, top
 * voice first. Of all ways of its kind the one with the lowest cost (see Quality) is taken; ties go to the first, so that
 * the same clips always give the same tiles. Boxes are even, lie within the canvas and do not overlap.
 * Time: below 10 ms for 25 voices. Throws PartsongError 'bad-option' where the canvas is too small for so many.
 */
export function tile(canvas: Size, aspects: readonly number[], options: TilingOptions): Tiling {
  if (aspects.length === 0) throw new RangeError('there are no voices to lay tiles for');
  const { marginPx } = options;
  const area: Box = {
    xPx: marginPx,
    yPx: marginPx,
    widthPx: canvas.widthPx - 2 * marginPx,
    heightPx: canvas.heightPx - 2 * marginPx,
  };
  let best: Tiling | undefined;
  for (const boxes of waysOf(area, aspects, options)) {
    if (boxes.some((box) => box.widthPx < SMALLEST_TILE_PX || box.heightPx < SMALLEST_TILE_PX)) continue;
    const way = { kind: options.kind, boxes, quality: qualityOf(canvas, aspects, boxes, leadOf(options)) };
    best = best === undefined ? way : betterOf(best, way);
  }
  if (best !== undefined) return best;
  throw new PartsongError(
    'bad-option',
    `${aspects.length} voices do not fit on a canvas of ${sizeInWords(canvas)} as ${options.kind}.`,
    'Choose a larger canvas, smaller gaps and margins, or the tiling "rows".',
  );
}

function leadOf(options: TilingOptions): number | undefined {
  return options.kind === 'lead' ? (options.leadIndex ?? 0) : undefined;
}

function waysOf(area: Box, aspects: readonly number[], options: TilingOptions): Box[][] {
  switch (options.kind) {
    case 'rows':
      return rows(area, aspects, options);
    case 'lead':
      return leadTilings(area, aspects, options);
    case 'ranks':
      return ranks(area, aspects, options);
    case 'strip':
      return strips(area, aspects, options);
  }
}
