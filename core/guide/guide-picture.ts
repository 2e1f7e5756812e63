import { aboveCapitalsPx, inLetters, letterMask, textWidth } from '../letters/letter-mask.ts';
import type { GuideScene } from './guide-scene.ts';

/** Size of the picture, px; both even. Large enough for a tablet's screen, small enough to be drawn 50 times as fast as shown. */
export const PICTURE_WIDTH = 640;
export const PICTURE_HEIGHT = 360;

/** A colour as BT.709 video has it (limited range). */
interface Colour {
  readonly y: number;
  readonly u: number;
  readonly v: number;
}

/** Warm paper, ink, a quiet grey (7:1 and 4.5:1 against paper and more), and the Okabe-Ito vermilion for the clap. */
const PAPER: Colour = { y: 222, u: 124, v: 130 };
const INK: Colour = { y: 46, u: 127, v: 129 };
const GREY: Colour = { y: 94, u: 127, v: 129 };
const RULE: Colour = { y: 196, u: 124, v: 130 };
const MARK: Colour = { y: 113, u: 75, v: 184 };

/**
 * Draws scenes as pictures of planar YUV 4:2:0, 8 bits: all luma, then U, then V at half size. Only the figures and a row of
 * dots change from beat to beat, a few hundredths of the area. Memory: the letters used.
 */
export class GuidePicture {
  readonly #title: string;

  constructor(title: string) {
    this.#title = inLetters(title);
  }

  /** Scenes of one name look the same. */
  static nameOf({ share, ...scene }: GuideScene): string {
    return JSON.stringify([scene, barLength(share)]);
  }

  /** A picture of its own, 345 600 bytes. */
  draw(scene: GuideScene): Uint8Array<ArrayBuffer> {
    const luma = PICTURE_WIDTH * PICTURE_HEIGHT;
    const bytes = new Uint8Array(1.5 * luma);
    bytes.fill(PAPER.y, 0, luma);
    bytes.fill(PAPER.u, luma, 1.25 * luma);
    bytes.fill(PAPER.v, 1.25 * luma);
    drawText(bytes, fitted(this.#title, 16, PICTURE_WIDTH - 60), 16, PICTURE_WIDTH / 2, 20, GREY);
    drawText(bytes, scene.heading, 30, PICTURE_WIDTH / 2, 58, INK);
    const bigPx = scene.big.length > 3 ? 104 : 128;
    if (scene.big !== '') {
      drawText(bytes, scene.big, bigPx, PICTURE_WIDTH / 2, 172 - bigPx / 2, scene.big === 'CLAP' ? MARK : INK);
    }
    drawText(bytes, scene.foot, 20, PICTURE_WIDTH / 2, 312, GREY);
    drawDots(bytes, scene);
    fillBox(bytes, 30, 346, PICTURE_WIDTH - 60, 4, RULE);
    fillBox(bytes, 30, 346, barLength(scene.share), 4, GREY);
    return bytes;
  }
}

/** Length of the line that shows how far the part has come, px. */
function barLength(share: number): number {
  return 2 * Math.round(((PICTURE_WIDTH - 60) * share) / 2);
}

/** As much of a text as fits. */
function fitted(text: string, heightPx: number, width: number): string {
  let kept = text;
  while (kept !== '' && textWidth(kept, heightPx) > width) kept = kept.slice(0, -1);
  return kept;
}

function drawText(
  bytes: Uint8Array,
  text: string,
  heightPx: number,
  centre: number,
  top: number,
  colour: Colour,
): void {
  let left = Math.round(centre - textWidth(text, heightPx) / 2);
  const maskTop = Math.round(top - aboveCapitalsPx(heightPx));
  for (const letter of text) {
    const { width, height, advance, cover } = letterMask(letter, heightPx);
    for (let y = 0; y < height; y++) {
      for (let x = 0; x < width; x++) {
        const share = cover[y * width + x]!;
        if (share > 0) blend(bytes, left + x, maskTop + y, colour, share / 255);
      }
    }
    left += advance;
  }
}

const DOT_Y = 274;

function drawDots(bytes: Uint8Array, { dots }: GuideScene): void {
  const gap = Math.min(44, (PICTURE_WIDTH - 80) / Math.max(1, dots.length));
  dots.forEach(({ full, mark }, n) => {
    const x = PICTURE_WIDTH / 2 + (n - (dots.length - 1) / 2) * gap;
    drawDot(bytes, x, DOT_Y, mark ? 15 : Math.min(9, gap / 3), full, mark ? MARK : INK);
  });
}

/** A disc, or a ring where it is not full. */
function drawDot(
  bytes: Uint8Array,
  centreX: number,
  centreY: number,
  radius: number,
  full: boolean,
  colour: Colour,
): void {
  for (let y = Math.floor(centreY - radius - 2); y <= centreY + radius + 2; y++) {
    for (let x = Math.floor(centreX - radius - 2); x <= centreX + radius + 2; x++) {
      const distance = Math.hypot(x - centreX, y - centreY);
      const outside = full ? distance - radius : Math.abs(distance - radius + 1.25) - 1.25;
      const share = Math.min(1, Math.max(0, 0.5 - outside));
      if (share > 0) blend(bytes, x, y, colour, share);
    }
  }
}

function fillBox(bytes: Uint8Array, left: number, top: number, width: number, height: number, colour: Colour): void {
  for (let y = top; y < top + height; y++) for (let x = left; x < left + width; x++) blend(bytes, x, y, colour, 1);
}

function blend(bytes: Uint8Array, x: number, y: number, colour: Colour, share: number): void {
  if (x < 0 || y < 0 || x >= PICTURE_WIDTH || y >= PICTURE_HEIGHT) return;
  const at = y * PICTURE_WIDTH + x;
  bytes[at] = bytes[at]! + share * (colour.y - bytes[at]!);
  if (((x | y) & 1) !== 0) return;
  const luma = PICTURE_WIDTH * PICTURE_HEIGHT;
  const chroma = luma + (y >> 1) * (PICTURE_WIDTH >> 1) + (x >> 1);
  bytes[chroma] = bytes[chroma]! + share * (colour.u - bytes[chroma]!);
  bytes[chroma + luma / 4] = bytes[chroma + luma / 4]! + share * (colour.v - bytes[chroma + luma / 4]!);
}
