import type { Box } from '../../../core/picture/canvas.ts';
import type { Edit } from '../../../core/session/edit.ts';
import { usualTile } from '../../../core/session/picture-choice.ts';
import type { PictureChoice, TileChoice } from '../../../core/session/picture-schema.ts';
import { edit } from '../../desk/desk-store.ts';
import type { PictureTile } from './picture-model.ts';

/** Changes parts of what is chosen for the picture. */
export function setParts(parts: Partial<PictureChoice>, mergeKey: string | null = null): void {
  edit({ kind: 'setPicture', parts }, mergeKey);
}

/** Changes what is settled for a tile. */
export function setTile(tile: TileChoice, change: Partial<TileChoice>, mergeKey: string | null = null): void {
  edit({ kind: 'setTile', voiceId: tile.voiceId, tile: { ...tile, ...change } }, mergeKey);
}

/** Shows the tile of a voice again. */
export function showTile(picture: PictureChoice, voiceId: string): void {
  const tile = picture.tiles.find((one) => one.voiceId === voiceId) ?? usualTile(voiceId);
  setTile(tile, { shown: true });
}

/** The edit by which two tiles change places; what belongs to the clips (crop, mirror) stays with them. */
export function swapEdit(one: PictureTile, other: PictureTile): Edit {
  const put = (tile: PictureTile, at: PictureTile): Edit => ({
    kind: 'setTile',
    voiceId: tile.voiceId,
    tile: { ...tile.choice, box: { ...at.box }, order: at.choice.order },
  });
  return {
    kind: 'together',
    label: `${one.name} and ${other.name} change places`,
    edits: [put(one, other), put(other, one)],
  };
}

/** Puts a tile by hand. */
export function putTile(tile: PictureTile, box: Box, mergeKey: string | null = null): void {
  setTile(tile.choice, { box: { ...box } }, mergeKey);
}

/** Leaves all places to the tiling again; what else was settled for tiles stays. */
export function layAnew(picture: PictureChoice): void {
  setParts({ tiles: picture.tiles.map((tile) => ({ ...tile, box: null, order: 0 })) });
}
