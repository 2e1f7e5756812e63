import { type Box, type Size, sizeInWords } from './canvas.ts';
import { CENTRED, type Crop } from './crop.ts';
import { MOST_CHANGES_A_SECOND, type TileMoment, tooManyChangesAt } from './moments.ts';
import type { PictureRate } from './picture-rate.ts';
import { MOST_CROP, type TilingKind, usualGapPx } from './tiling.ts';

/** A stretch of session time, s. */
export interface SessionSpan {
  readonly fromSec: number;
  readonly toSec: number;
}

/** What was settled by hand for one voice's tile; absent fields leave it to the tiling. */
export interface TileDesign {
  readonly voiceId: string;
  /** false: the voice is heard only. */
  readonly shown?: boolean;
  readonly box?: Box;
  readonly crop?: Crop;
  /** Left and right changed, as a front camera shows it to its owner. */
  readonly mirrored?: boolean;
  /** Radius of the corners, px. */
  readonly roundingPx?: number;
  readonly borderPx?: number;
  /** `#rrggbb`. */
  readonly borderColour?: string;
  /** Where tiles lie over one another, the higher number is on top; 0 where absent. */
  readonly order?: number;
  /** When the tile is seen; absent: always. */
  readonly span?: SessionSpan;
  /** Stretches in which it is large, away, or elsewhere; see moments.ts. */
  readonly moments?: readonly TileMoment[];
}

/** A card with the piece's name. */
export interface TitleCard {
  readonly text: string;
  /** A smaller line below; empty: none. */
  readonly subtitle: string;
  /** How long it is seen from the beginning, s. */
  readonly lengthSec: number;
}

/** All that is settled of a picture but its clips: immutable plain data. */
export interface PictureDesign {
  readonly canvas: Size;
  /** null: that of the fastest clip, or higher where the tiles would be off their sound; see chooseRate. */
  readonly rate: PictureRate | null;
  readonly tiling: {
    readonly kind: TilingKind;
    readonly gapPx: number;
    readonly marginPx: number;
    readonly mostCrop: number;
  };
  /** The voice in the large tile of 'lead'; null or absent: the session's lead, else the first. */
  readonly leadId?: string | null;
  /** `#rrggbb`. */
  readonly background: string;
  readonly tiles: readonly TileDesign[];
  /** For every tile that has none of its own. */
  readonly roundingPx: number;
  /** The voices' names are written into their tiles. */
  readonly names: boolean;
  readonly title: TitleCard | null;
  /** From and to black, s. */
  readonly fade: { readonly inSec: number; readonly outSec: number };
}

/** A dark grey that is no colour, so that it is the same by every way FFmpeg mixes colours. */
export const USUAL_BACKGROUND = '#141414';

/** The design that is taken when nothing was settled. */
export function usualDesign(canvas: Size): PictureDesign {
  const gapPx = usualGapPx(canvas);
  return {
    canvas,
    rate: null,
    tiling: { kind: 'rows', gapPx, marginPx: gapPx, mostCrop: MOST_CROP },
    background: USUAL_BACKGROUND,
    tiles: [],
    roundingPx: 0,
    names: false,
    title: null,
    fade: { inSec: 0, outSec: 0 },
  };
}

/** The design with some fields of one voice's tile changed. Pure. */
export function withTile(design: PictureDesign, voiceId: string, change: Omit<TileDesign, 'voiceId'>): PictureDesign {
  const known = design.tiles.some((tile) => tile.voiceId === voiceId);
  const tiles = known
    ? design.tiles.map((tile) => (tile.voiceId === voiceId ? { ...tile, ...change } : tile))
    : [...design.tiles, { voiceId, ...change }];
  return { ...design, tiles };
}

/** Two tiles change places: boxes and order; what belongs to the clips (crop, mirror) stays with them. Pure. */
export function swapTiles(
  design: PictureDesign,
  boxes: ReadonlyMap<string, Box>,
  oneId: string,
  otherId: string,
): PictureDesign {
  const one = boxes.get(oneId);
  const other = boxes.get(otherId);
  if (one === undefined || other === undefined) throw new RangeError(`no tiles ${oneId} and ${otherId} to swap`);
  const orderOf = (voiceId: string): number => design.tiles.find((tile) => tile.voiceId === voiceId)?.order ?? 0;
  const [oneOrder, otherOrder] = [orderOf(oneId), orderOf(otherId)];
  return withTile(withTile(design, oneId, { box: other, order: otherOrder }), otherId, { box: one, order: oneOrder });
}

/** EBU R 95: what matters lies within 90 % of the width and the height. */
const SAFE_SHARE = 0.05;

/** The part of a canvas in which names and titles stay, px. */
export function safeBox({ widthPx, heightPx }: Size): Box {
  const xPx = Math.ceil(widthPx * SAFE_SHARE);
  const yPx = Math.ceil(heightPx * SAFE_SHARE);
  return { xPx, yPx, widthPx: widthPx - 2 * xPx, heightPx: heightPx - 2 * yPx };
}

/** What makes a design one that cannot be rendered, sentences; none when it can. */
export function designFaults(design: PictureDesign): string[] {
  const { canvas, tiles } = design;
  const faults: string[] = [];
  for (const { voiceId, box, crop = CENTRED, moments = [] } of tiles) {
    const boxes = [box, ...moments.filter(({ as }) => as === 'box').map((moment) => moment.box)];
    for (const one of boxes) if (one !== undefined) faults.push(...boxFaults(voiceId, one, canvas));
    if (!(crop.zoom >= 1 && crop.zoom <= 8)) faults.push(`The zoom of ${voiceId} is ${crop.zoom}; allowed 1 to 8.`);
    for (const { fromSec, toSec, as, box: at } of moments) {
      if (!(toSec > fromSec)) faults.push(`A moment of ${voiceId} ends at ${toSec} s, not after it begins.`);
      if (as === 'box' && at === undefined) faults.push(`A moment of ${voiceId} does not say where the tile lies.`);
    }
  }
  const manySec = tooManyChangesAt(tiles);
  if (manySec !== undefined) {
    faults.push(
      `The tiles change more than ${MOST_CHANGES_A_SECOND} times within the second from ${manySec.toFixed(1)} s on, which some eyes must not be shown; set them further apart.`,
    );
  }
  return faults;
}

function boxFaults(voiceId: string, box: Box, canvas: Size): string[] {
  const faults: string[] = [];
  const leaves = box.xPx < 0 || box.yPx < 0 || box.xPx + box.widthPx > canvas.widthPx;
  if (leaves || box.yPx + box.heightPx > canvas.heightPx) {
    faults.push(`The tile of ${voiceId} leaves the canvas of ${sizeInWords(canvas)}.`);
  }
  if ([box.xPx, box.yPx, box.widthPx, box.heightPx].some((side) => side % 2 !== 0)) {
    faults.push(`The tile of ${voiceId} does not lie on even px.`);
  }
  return faults;
}
