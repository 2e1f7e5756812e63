import { type Box, EVEN_PX, evenBelowPx, evenPx, type Size } from '../picture/canvas.ts';
import type { TileMoment } from '../picture/moments.ts';
import { type PictureDesign, type TileDesign, usualDesign } from '../picture/picture-design.ts';
import type { PictureChoice, TileChoice } from './picture-schema.ts';

/** The canvas that is taken when none was chosen. */
export const USUAL_CANVAS: Size = { widthPx: 1920, heightPx: 1080 };

/** The choices that hold while nothing was chosen: see `usualDesign`. */
export function usualPicture(): PictureChoice {
  const { canvas, rate, tiling, background, roundingPx, names, title, fade } = usualDesign(USUAL_CANVAS);
  return {
    ...{ canvas, rate, tiling: { ...tiling }, background, roundingPx, names, title, fade },
    leadVoiceId: null,
    borderPx: 0,
    matched: false,
    borderColour: '#ffffff',
    span: null,
    tiles: [],
  };
}

/** The tile of a voice for which nothing was settled. */
export function usualTile(voiceId: string): TileChoice {
  return { voiceId, shown: true, box: null, crop: null, mirrored: false, order: 0, span: null };
}

/** What was settled for the tile of a voice. */
export function tileOf(picture: PictureChoice, voiceId: string): TileChoice {
  return picture.tiles.find((tile) => tile.voiceId === voiceId) ?? usualTile(voiceId);
}

/** The choices with some of them changed. Pure. */
export function withParts(picture: PictureChoice | null, parts: Partial<PictureChoice>): PictureChoice {
  return { ...(picture ?? usualPicture()), ...parts };
}

/** The choices with one voice's tile in place of what it was; null: nothing settled for it any more. Pure. */
export function withTileChoice(picture: PictureChoice | null, voiceId: string, tile: TileChoice | null): PictureChoice {
  const before = picture ?? usualPicture();
  const others = before.tiles.filter((one) => one.voiceId !== voiceId);
  return { ...before, tiles: tile === null ? others : [...others, { ...tile, voiceId }] };
}

/** The choices on another canvas: tiles put by hand, gaps, corners and borders keep their share of it. Pure. */
export function onCanvas(picture: PictureChoice, canvas: Size): PictureChoice {
  const before = picture.canvas;
  const across = canvas.widthPx / before.widthPx;
  const down = canvas.heightPx / before.heightPx;
  const short = Math.min(canvas.widthPx, canvas.heightPx) / Math.min(before.widthPx, before.heightPx);
  const room = (px: number): number => (px === 0 ? 0 : Math.max(EVEN_PX, evenPx(px * short)));
  const { gapPx, marginPx } = picture.tiling;
  return {
    ...picture,
    canvas,
    tiling: { ...picture.tiling, gapPx: room(gapPx), marginPx: room(marginPx) },
    roundingPx: room(picture.roundingPx),
    borderPx: room(picture.borderPx),
    tiles: picture.tiles.map((tile): TileChoice => {
      const scaled = (box: Box): Box => scaledBox(box, across, down, canvas);
      const { moments } = tile;
      return {
        ...tile,
        box: tile.box === null ? null : scaled(tile.box),
        ...(moments === undefined
          ? {}
          : { moments: moments.map((one) => (one.box === undefined ? one : { ...one, box: scaled(one.box) })) }),
      };
    }),
  };
}

function scaledBox(box: Box, across: number, down: number, canvas: Size): Box {
  const widthPx = Math.max(16, Math.min(evenBelowPx(canvas.widthPx), evenPx(box.widthPx * across)));
  const heightPx = Math.max(16, Math.min(evenBelowPx(canvas.heightPx), evenPx(box.heightPx * down)));
  return {
    xPx: Math.min(canvas.widthPx - widthPx, evenPx(box.xPx * across)),
    yPx: Math.min(canvas.heightPx - heightPx, evenPx(box.yPx * down)),
    widthPx,
    heightPx,
  };
}

/** The choices as a design that can be planned and rendered; tiles of voices that are not there any more are left out. */
export function designOf(picture: PictureChoice, voiceIds: readonly string[]): PictureDesign {
  const { canvas, rate, tiling, background, roundingPx, borderPx, borderColour, names, title, fade } = picture;
  const tiles = voiceIds.map((voiceId): TileDesign => {
    const { shown, box, crop, mirrored, order, span: seen, moments = [] } = tileOf(picture, voiceId);
    return {
      ...{ voiceId, shown, mirrored, order },
      ...(box === null ? {} : { box }),
      ...(crop === null ? {} : { crop }),
      ...(seen === null ? {} : { span: seen }),
      ...(moments.length === 0 ? {} : { moments: moments.map(momentOf) }),
      ...(borderPx === 0 ? {} : { borderPx, borderColour }),
    };
  });
  return { canvas, rate, tiling, background, tiles, roundingPx, names, title, fade };
}

/** A moment as a design has it. */
export function momentOf({ box, ...moment }: NonNullable<TileChoice['moments']>[number]): TileMoment {
  return box === undefined ? moment : { ...moment, box };
}
