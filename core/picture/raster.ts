import type { Piece } from '../letters/set-line.ts';
import type { Box, Size } from './canvas.ts';

/** A colour with its opacity, 0 to 255 and 0 to 1. */
export interface Ink {
  readonly red: number;
  readonly green: number;
  readonly blue: number;
  readonly opacity: number;
}

/** Reads `#rrggbb`. Throws RangeError for anything else. */
export function inkOf(colour: string, opacity = 1): Ink {
  const match = /^#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})$/i.exec(colour);
  if (match === null) throw new RangeError(`colour is ${colour}; allowed is #rrggbb`);
  const [red, green, blue] = match.slice(1).map((part) => Number.parseInt(part, 16)) as [number, number, number];
  return { red, green, blue, opacity };
}

/**
 * A still picture of our own: 8 bits of red, green, blue and opacity (not multiplied) a px, rows from the top, clear at
 * first. Edges are smoothed by how much of a px is covered. Memory: 4 bytes a px.
 */
export class Raster {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly data: Uint8Array;

  constructor({ widthPx, heightPx }: Size) {
    this.widthPx = widthPx;
    this.heightPx = heightPx;
    this.data = new Uint8Array(widthPx * heightPx * 4);
  }

  /** A rectangle, with corners rounded by `radiusPx`. */
  fillBox(box: Box, ink: Ink, radiusPx = 0): void {
    const radius = Math.min(radiusPx, box.widthPx / 2, box.heightPx / 2);
    const middleX = box.xPx + box.widthPx / 2;
    const middleY = box.yPx + box.heightPx / 2;
    this.#each(box, (x, y) => {
      const outX = Math.abs(x + 0.5 - middleX) - (box.widthPx / 2 - radius);
      const outY = Math.abs(y + 0.5 - middleY) - (box.heightPx / 2 - radius);
      const distance = Math.hypot(Math.max(0, outX), Math.max(0, outY)) + Math.min(0, Math.max(outX, outY)) - radius;
      this.#blend(x, y, ink, Math.min(1, Math.max(0, 0.5 - distance)));
    });
  }

  /** Takes away whatever lies in a rectangle with rounded corners: the picture below shows there. */
  clearBox(box: Box, radiusPx = 0): void {
    const radius = Math.min(radiusPx, box.widthPx / 2, box.heightPx / 2);
    const middleX = box.xPx + box.widthPx / 2;
    const middleY = box.yPx + box.heightPx / 2;
    this.#each(box, (x, y) => {
      const outX = Math.abs(x + 0.5 - middleX) - (box.widthPx / 2 - radius);
      const outY = Math.abs(y + 0.5 - middleY) - (box.heightPx / 2 - radius);
      const distance = Math.hypot(Math.max(0, outX), Math.max(0, outY)) + Math.min(0, Math.max(outX, outY)) - radius;
      const at = (y * this.widthPx + x) * 4 + 3;
      this.data[at] = Math.round(this.data[at]! * Math.min(1, Math.max(0, 0.5 + distance)));
    });
  }

  /** Strokes of a round pen, `xPx`, `yPx` right and down of where their pieces say. */
  strokes(pieces: readonly Piece[], strokePx: number, xPx: number, yPx: number, ink: Ink): void {
    if (pieces.length === 0) return;
    const cover = new Float32Array(this.widthPx * this.heightPx);
    const half = strokePx / 2;
    for (const [ax, ay, bx, by] of pieces) {
      const [x0, y0, x1, y1] = [ax + xPx, ay + yPx, bx + xPx, by + yPx];
      const left = Math.max(0, Math.floor(Math.min(x0, x1) - half - 1));
      const right = Math.min(this.widthPx - 1, Math.ceil(Math.max(x0, x1) + half + 1));
      const top = Math.max(0, Math.floor(Math.min(y0, y1) - half - 1));
      const bottom = Math.min(this.heightPx - 1, Math.ceil(Math.max(y0, y1) + half + 1));
      const squared = (x1 - x0) ** 2 + (y1 - y0) ** 2;
      for (let y = top; y <= bottom; y++) {
        for (let x = left; x <= right; x++) {
          const along = squared === 0 ? 0 : ((x + 0.5 - x0) * (x1 - x0) + (y + 0.5 - y0) * (y1 - y0)) / squared;
          const part = Math.min(1, Math.max(0, along));
          const distance = Math.hypot(x + 0.5 - x0 - part * (x1 - x0), y + 0.5 - y0 - part * (y1 - y0));
          const covered = Math.min(1, half + 0.5 - distance);
          const at = y * this.widthPx + x;
          if (covered > cover[at]!) cover[at] = covered;
        }
      }
    }
    for (let y = 0, at = 0; y < this.heightPx; y++) {
      for (let x = 0; x < this.widthPx; x++, at++) if (cover[at]! > 0) this.#blend(x, y, ink, cover[at]!);
    }
  }

  #each(box: Box, visit: (x: number, y: number) => void): void {
    const right = Math.min(this.widthPx, Math.ceil(box.xPx + box.widthPx));
    const bottom = Math.min(this.heightPx, Math.ceil(box.yPx + box.heightPx));
    for (let y = Math.max(0, Math.floor(box.yPx)); y < bottom; y++) {
      for (let x = Math.max(0, Math.floor(box.xPx)); x < right; x++) visit(x, y);
    }
  }

  /** Lays ink over what is there (Porter and Duff 1984, "over", colours not multiplied by opacity). */
  #blend(x: number, y: number, ink: Ink, cover: number): void {
    const over = ink.opacity * cover;
    if (over <= 0) return;
    const { data } = this;
    const at = (y * this.widthPx + x) * 4;
    const under = (data[at + 3]! / 255) * (1 - over);
    const sum = over + under;
    data[at] = Math.round((ink.red * over + data[at]! * under) / sum);
    data[at + 1] = Math.round((ink.green * over + data[at + 1]! * under) / sum);
    data[at + 2] = Math.round((ink.blue * over + data[at + 2]! * under) / sum);
    data[at + 3] = Math.round(255 * sum);
  }
}
