import { MARK_UNITS, TAIL_UNITS } from '../letters/latin.ts';
import { setLine } from '../letters/set-line.ts';
import type { Box, Size } from './canvas.ts';
import { type Ink, inkOf, Raster } from './raster.ts';

/** A tile's edge as it is drawn over the canvas. */
export interface TileEdge {
  readonly box: Box;
  readonly roundingPx: number;
  readonly borderPx: number;
  readonly borderColour: string;
}

/** A still picture that is drawn here and laid into the graph. Plain data: the same drawing gives the same px. */
export type Drawing =
  | { readonly kind: 'ground'; readonly size: Size; readonly colour: string }
  /** Corners and borders of all tiles at once: ground where a corner is rounded off, clear elsewhere. */
  | { readonly kind: 'edges'; readonly size: Size; readonly ground: string; readonly tiles: readonly TileEdge[] }
  /** Opaque where a tile with rounded corners is seen. */
  | { readonly kind: 'mask'; readonly size: Size; readonly edge: TileEdge }
  | { readonly kind: 'name'; readonly size: Size; readonly text: string; readonly capitalPx: number }
  | {
      readonly kind: 'title';
      readonly size: Size;
      readonly text: string;
      readonly subtitle: string;
      readonly capitalPx: number;
    }
  /** For a voice without a picture: its name and the shape of its sound. */
  | {
      readonly kind: 'voice';
      readonly size: Size;
      readonly name: string;
      readonly colour: string;
      /** Highest magnitudes of stretches of equal length, 0 to 1; none: no waveform. */
      readonly peaks: readonly number[];
    }
  /** The line that runs along a waveform. */
  | { readonly kind: 'line'; readonly size: Size };

/**
 * Okabe and Ito (2008): colours that are told apart with colour-blind eyes, in the order a voice's `colour` counts them;
 * their black is paper here, since it lies on dark ground.
 */
export const VOICE_COLOURS = [
  '#0072b2',
  '#d55e00',
  '#009e73',
  '#cc79a7',
  '#e69f00',
  '#56b4e9',
  '#f5f1e6',
  '#f0e442',
] as const;

/** Of borders whose colour was not chosen. */
export const USUAL_BORDER = '#fafafa';

const PAPER: Ink = { red: 250, green: 247, blue: 240, opacity: 1 };
const SHADE: Ink = { red: 16, green: 16, blue: 16, opacity: 0.6 };
/** Room around letters, in heights of a capital. */
const NAME_ROOM = 0.55;
const TITLE_ROOM = 1.1;
const SUBTITLE_SHARE = 0.55;
/** What of a line's height beside its capitals lies above them. */
const ABOVE_SHARE = MARK_UNITS / (MARK_UNITS + TAIL_UNITS);

/** Draws a drawing. Memory: 4 bytes a px, 8 while letters are drawn. */
export function draw(drawing: Drawing): Raster {
  const raster = new Raster(drawing.size);
  const whole: Box = { xPx: 0, yPx: 0, ...drawing.size };
  switch (drawing.kind) {
    case 'ground':
      raster.fillBox(whole, inkOf(drawing.colour));
      return raster;
    case 'edges':
      for (const tile of drawing.tiles) drawEdge(raster, tile, inkOf(drawing.ground));
      return raster;
    case 'mask':
      raster.fillBox({ ...whole }, inkOf('#000000'));
      raster.fillBox({ ...whole }, inkOf('#ffffff'), drawing.edge.roundingPx);
      return raster;
    case 'name': {
      raster.fillBox(whole, SHADE, drawing.capitalPx * 0.5);
      writeLine(raster, drawing.text, drawing.capitalPx, drawing.size.heightPx / 2);
      return raster;
    }
    case 'title': {
      const { capitalPx, subtitle, size } = drawing;
      raster.fillBox(whole, SHADE, capitalPx * 0.4);
      const below = subtitle === '' ? 0 : capitalPx * (SUBTITLE_SHARE + 0.9);
      writeLine(raster, drawing.text, capitalPx, (size.heightPx - below) / 2);
      if (below > 0) {
        writeLine(raster, subtitle, capitalPx * SUBTITLE_SHARE, (size.heightPx + capitalPx + 0.9 * capitalPx) / 2);
      }
      return raster;
    }
    case 'voice':
      drawVoice(raster, drawing);
      return raster;
    case 'line':
      raster.fillBox(whole, { ...PAPER, opacity: 0.9 });
      return raster;
  }
}

function drawEdge(raster: Raster, { box, roundingPx, borderPx, borderColour }: TileEdge, ground: Ink): void {
  if (roundingPx > 0) {
    raster.fillBox(box, ground);
    if (borderPx === 0) raster.clearBox(box, roundingPx);
  }
  if (borderPx === 0) return;
  raster.fillBox(box, inkOf(borderColour), roundingPx);
  const inner = {
    xPx: box.xPx + borderPx,
    yPx: box.yPx + borderPx,
    widthPx: Math.max(0, box.widthPx - 2 * borderPx),
    heightPx: Math.max(0, box.heightPx - 2 * borderPx),
  };
  raster.clearBox(inner, Math.max(0, roundingPx - borderPx));
}

/** Writes a line in the middle across, its capitals around `middleY`. */
function writeLine(raster: Raster, text: string, capitalPx: number, middleY: number): void {
  const line = setLine(text, capitalPx);
  const top = middleY - capitalPx / 2 - (line.heightPx - capitalPx) * ABOVE_SHARE;
  raster.strokes(line.pieces, line.strokePx, Math.max(0, (raster.widthPx - line.widthPx) / 2), top, PAPER);
}

function drawVoice(raster: Raster, drawing: Extract<Drawing, { kind: 'voice' }>): void {
  const { size, colour, peaks, name } = drawing;
  const { widthPx, heightPx } = size;
  raster.fillBox({ xPx: 0, yPx: 0, ...size }, { red: 38, green: 38, blue: 38, opacity: 1 });
  const box = waveBox(size);
  const middle = box.yPx + box.heightPx / 2;
  const loudest = Math.max(1e-6, ...peaks);
  for (const [index, peak] of peaks.entries()) {
    const half = Math.max(0.5, (peak / loudest) * (box.heightPx / 2));
    const xPx = box.xPx + (index * box.widthPx) / peaks.length;
    const barPx = Math.max(1, (0.7 * box.widthPx) / peaks.length);
    raster.fillBox({ xPx, yPx: middle - half, widthPx: barPx, heightPx: 2 * half }, inkOf(colour), barPx / 2);
  }
  const capitalPx = fittingCapital(name, widthPx * 0.86, Math.max(6, heightPx * 0.07));
  writeLine(raster, name, capitalPx, heightPx * 0.2);
}

/** Where the waveform lies in a drawn tile, px. */
export function waveBox({ widthPx, heightPx }: Size): Box {
  return {
    xPx: Math.round(widthPx * 0.08),
    yPx: Math.round(heightPx * 0.36),
    widthPx: Math.round(widthPx * 0.84),
    heightPx: Math.round(heightPx * 0.44),
  };
}

/** The height of capitals at which a line is no wider than `widthPx`, `mostPx` at most. */
export function fittingCapital(text: string, widthPx: number, mostPx: number): number {
  const wide = setLine(text, mostPx).widthPx;
  return wide <= widthPx ? mostPx : (mostPx * widthPx) / wide;
}

/** A name's plate: as large as its text and the room around it, even px. */
export function namePlate(text: string, capitalPx: number): Extract<Drawing, { kind: 'name' }> {
  const line = setLine(text, capitalPx);
  const size = {
    widthPx: 2 * Math.ceil((line.widthPx + 2 * NAME_ROOM * capitalPx) / 2),
    heightPx: 2 * Math.ceil((capitalPx * (1 + 2 * NAME_ROOM)) / 2),
  };
  return { kind: 'name', size, text, capitalPx };
}

/** A title's card, as large as its text and the room around it, within `most`; even px. */
export function titleCard(text: string, subtitle: string, most: Size): Extract<Drawing, { kind: 'title' }> {
  const across = most.widthPx * 0.9;
  const capitalPx = Math.min(
    fittingCapital(text, across, most.heightPx * 0.09),
    subtitle === '' ? Number.POSITIVE_INFINITY : fittingCapital(subtitle, across, most.heightPx) / SUBTITLE_SHARE,
  );
  const wide = Math.max(setLine(text, capitalPx).widthPx, setLine(subtitle, capitalPx * SUBTITLE_SHARE).widthPx);
  const lines = subtitle === '' ? 1 : 1.9 + SUBTITLE_SHARE;
  const size = {
    widthPx: Math.min(2 * Math.floor(most.widthPx / 2), 2 * Math.ceil((wide + 2 * TITLE_ROOM * capitalPx) / 2)),
    heightPx: 2 * Math.ceil((capitalPx * (lines + 2 * TITLE_ROOM)) / 2),
  };
  return { kind: 'title', size, text, subtitle, capitalPx };
}

/** Signs of a drawing that there are no letters for. */
export function unknownSigns(drawing: Drawing): readonly string[] {
  switch (drawing.kind) {
    case 'name':
      return setLine(drawing.text, 10).unknown;
    case 'title':
      return setLine(`${drawing.text} ${drawing.subtitle}`, 10).unknown;
    case 'voice':
      return setLine(drawing.name, 10).unknown;
    default:
      return [];
  }
}
