import { PartsongError } from '../signal/fault.ts';

/** Width and height of a picture, px. */
export interface Size {
  readonly widthPx: number;
  readonly heightPx: number;
}

/** A rectangle on the canvas, px from its upper left corner. Whole, and even where it holds moving pictures. */
export interface Box extends Size {
  readonly xPx: number;
  readonly yPx: number;
}

/** Smallest and largest side of a canvas, px. */
export const SMALLEST_CANVAS_PX = 240;
export const LARGEST_CANVAS_PX = 4096;
/** H.264 in its usual form halves the resolution of colours: sides and places of moving pictures are even. */
export const EVEN_PX = 2;

/** Shapes that destinations ask for, width to height. */
export const SHAPES = ['16:9', '9:16', '1:1', '4:5'] as const;
export type CanvasShape = (typeof SHAPES)[number];

/**
 * The canvas of a shape whose shorter side is `shortPx` (720, 1080, 2160, ...; even), px. 16:9 at 1080 is 1920 x 1080;
 * 4:5 at 1080 is 1080 x 1350.
 */
export function canvasOfShape(shape: CanvasShape, shortPx: number): Size {
  const [over, under] = shape.split(':').map(Number) as [number, number];
  const longPx = evenPx((shortPx * Math.max(over, under)) / Math.min(over, under));
  return over >= under ? { widthPx: longPx, heightPx: shortPx } : { widthPx: shortPx, heightPx: longPx };
}

/**
 * A canvas as people write it: `1920x1080`, a shape (`9:16`, which is 1080 px across), or a shape and its shorter side
 * (`1:1@720`). Throws PartsongError 'bad-option'.
 */
export function parseCanvas(text: string): Size {
  const sides = /^\s*(\d{1,5})\s*[x×]\s*(\d{1,5})\s*$/i.exec(text);
  if (sides !== null) return checkedCanvas({ widthPx: Number(sides[1]), heightPx: Number(sides[2]) });
  const named = /^\s*(\d+:\d+)(?:@(\d{1,5}))?\s*$/.exec(text);
  const shape = SHAPES.find((one) => one === named?.[1]);
  if (shape !== undefined) return checkedCanvas(canvasOfShape(shape, Number(named?.[2] ?? 1080)));
  throw new PartsongError(
    'bad-option',
    `"${text}" is no canvas.`,
    `Give WIDTHxHEIGHT in px, such as 1920x1080, or one of ${SHAPES.join(', ')}, with @ and the shorter side if you like (9:16@720).`,
  );
}

/** The canvas, if it can be rendered. Throws PartsongError 'bad-option' for odd, small or large sides. */
export function checkedCanvas(canvas: Size): Size {
  for (const side of [canvas.widthPx, canvas.heightPx]) {
    if (!(side >= SMALLEST_CANVAS_PX && side <= LARGEST_CANVAS_PX)) {
      throw new PartsongError(
        'bad-option',
        `A canvas of ${sizeInWords(canvas)} cannot be made: each side is from ${SMALLEST_CANVAS_PX} to ${LARGEST_CANVAS_PX} px.`,
        'Choose another size for the canvas.',
      );
    }
    if (side % EVEN_PX !== 0) {
      const even = { widthPx: evenPx(canvas.widthPx), heightPx: evenPx(canvas.heightPx) };
      throw new PartsongError(
        'bad-option',
        `A canvas of ${sizeInWords(canvas)} cannot be made: H.264 needs sides that are even.`,
        `The nearest is ${even.widthPx}x${even.heightPx}.`,
      );
    }
  }
  return canvas;
}

/** The even number nearest to a length, px. */
export function evenPx(length: number): number {
  return EVEN_PX * Math.round(length / EVEN_PX);
}

/** The largest even number that is not above a length, px. */
export function evenBelowPx(length: number): number {
  return EVEN_PX * Math.floor(length / EVEN_PX + 1e-9);
}

/** "1920 x 1080 px". */
export function sizeInWords({ widthPx, heightPx }: Size): string {
  return `${widthPx} x ${heightPx} px`;
}

/** Width by height. */
export function aspectOf({ widthPx, heightPx }: Size): number {
  return widthPx / heightPx;
}

/** True where two boxes share at least one px. */
export function overlap(one: Box, other: Box): boolean {
  return (
    one.xPx < other.xPx + other.widthPx &&
    other.xPx < one.xPx + one.widthPx &&
    one.yPx < other.yPx + other.heightPx &&
    other.yPx < one.yPx + one.heightPx
  );
}

/** True where a box lies wholly within a canvas. */
export function liesWithin(box: Box, canvas: Size): boolean {
  return (
    box.xPx >= 0 &&
    box.yPx >= 0 &&
    box.widthPx > 0 &&
    box.heightPx > 0 &&
    box.xPx + box.widthPx <= canvas.widthPx &&
    box.yPx + box.heightPx <= canvas.heightPx
  );
}
