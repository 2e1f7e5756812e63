import type { Columns } from './wave-columns.ts';

/** A colour as a little-endian RGBA word, opaque. */
export type Word = number;

export function wordOf(red: number, green: number, blue: number): Word {
  return ((255 << 24) | (blue << 16) | (green << 8) | red) >>> 0;
}

/** `share` of `over` on `under`, 0 to 1. */
export function mixed(under: Word, over: Word, share: number): Word {
  const part = Math.round(256 * share);
  const rest = 256 - part;
  const redBlue = (((under & 0xff00ff) * rest + (over & 0xff00ff) * part) >>> 8) & 0xff00ff;
  const green = (((under & 0xff00) * rest + (over & 0xff00) * part) >>> 8) & 0xff00;
  return (0xff000000 | redBlue | green) >>> 0;
}

/**
 * A sheet of opaque pixels that lanes are drawn on, in device pixels. Drawing 20 lanes column by column through the
 * canvas's own calls costs several times what writing the pixels costs; the whole sheet then goes to the canvas at once.
 * Everything is cut off outside `top` to `bottom`.
 */
export class PixelSheet {
  readonly width: number;
  readonly height: number;
  readonly pixels: Uint32Array;
  top = 0;
  bottom: number;

  constructor(width: number, height: number, pixels = new Uint32Array(width * height)) {
    this.width = width;
    this.height = height;
    this.pixels = pixels;
    this.bottom = height;
  }

  /** Rows outside are left as they are until the next call. */
  clip(top: number, bottom: number): void {
    this.top = Math.max(0, Math.round(top));
    this.bottom = Math.min(this.height, Math.round(bottom));
  }

  /** A filled box; edges are rounded to whole pixels. */
  fill(left: number, top: number, right: number, bottom: number, colour: Word): void {
    const x0 = Math.max(0, Math.round(left));
    const x1 = Math.min(this.width, Math.round(right));
    const y1 = Math.min(this.bottom, Math.round(bottom));
    if (x1 <= x0) return;
    for (let y = Math.max(this.top, Math.round(top)); y < y1; y++) {
      this.pixels.fill(colour, y * this.width + x0, y * this.width + x1);
    }
  }

  /** Slanting hairlines in a box, `gap` pixels apart; they keep their place when the box moves by `shift`. */
  hatch(left: number, top: number, right: number, bottom: number, gap: number, shift: number, colour: Word): void {
    const x0 = Math.max(0, Math.round(left));
    const x1 = Math.min(this.width, Math.round(right));
    const y1 = Math.min(this.bottom, Math.round(bottom));
    for (let y = Math.max(this.top, Math.round(top)); y < y1; y++) {
      const row = y * this.width;
      const phase = (((shift - y - x0) % gap) + gap) % gap;
      for (let x = x0 + phase; x < x1; x += gap) this.pixels[row + x] = colour;
    }
  }

  /** A filled disc. */
  disc(x: number, y: number, radius: number, colour: Word): void {
    for (let dy = -Math.ceil(radius); dy <= radius; dy++) {
      const half = Math.sqrt(Math.max(0, radius * radius - dy * dy));
      if (half > 0) this.fill(x - half, y + dy, x + half, y + dy + 1, colour);
    }
  }

  /**
   * Columns `from` to `to` of a waveform around `middle`, full scale `half` pixels high and cut off at `reach`. At least
   * `least` pixels high, so that silence is a line; the two ends of a column are blended, so that slow waves have no steps.
   * What a wave drawn over it afterwards (`hidden`, to the same scale) will cover need not be written.
   */
  wave(
    columns: Columns,
    from: number,
    to: number,
    middle: number,
    half: number,
    reach: number,
    least: number,
    colour: Word,
    hidden: Columns | null = null,
  ): void {
    const { pixels, width, top: clipTop, bottom: clipBottom } = this;
    const { low, high, known } = columns;
    const scale = half / 32767;
    const highest = Math.max(clipTop, middle - reach);
    const lowest = Math.min(clipBottom, middle + reach);
    const pad = least / 2;
    const first = Math.max(0, from);
    const last = Math.min(this.width, to);
    for (let x = first; x < last; x++) {
      if (known[x] === 0) continue;
      let y0 = middle - high[x]! * scale;
      let y1 = middle - low[x]! * scale;
      if (y1 - y0 < least) {
        const centre = (y0 + y1) / 2;
        y0 = centre - pad;
        y1 = centre + pad;
      }
      if (y0 < highest) y0 = highest;
      if (y1 > lowest) y1 = lowest;
      if (y1 <= y0) continue;
      const begin = Math.ceil(y0);
      const end = Math.floor(y1);
      if (begin > end) {
        const at = end * width + x;
        pixels[at] = mixed(pixels[at]!, colour, y1 - y0);
        continue;
      }
      let at = begin * width + x;
      if (begin - y0 > 0.02) pixels[at - width] = mixed(pixels[at - width]!, colour, begin - y0);
      const stop = end * width + x;
      if (hidden !== null && hidden.known[x] !== 0) {
        // Written up to the other wave, and on from behind it.
        const from = Math.ceil(Math.max(y0, middle - hidden.high[x]! * scale)) + 1;
        const to = Math.floor(Math.min(y1, middle - hidden.low[x]! * scale)) - 1;
        if (to > from) {
          for (const pause = from * width + x; at < pause; at += width) pixels[at] = colour;
          at = to * width + x;
        }
      }
      for (; at < stop; at += width) pixels[at] = colour;
      if (y1 - end > 0.02) pixels[at] = mixed(pixels[at]!, colour, y1 - end);
    }
  }
}
