import { type Box, evenBelowPx, type Size } from './canvas.ts';
import type { Composition } from './composition.ts';
import {
  type Drawing,
  fittingCapital,
  namePlate,
  type TileEdge,
  titleCard,
  USUAL_BORDER,
  unknownSigns,
} from './drawings.ts';
import { alongPath } from './move-graph.ts';
import { safeBox } from './picture-design.ts';
import { perSecond } from './picture-rate.ts';
import { restingBoxes, type TilePath } from './tile-path.ts';

/** A name's capitals are so high, of the tile's height and of the canvas's shorter side at most. */
const NAME_OF_TILE = 0.055;
const NAME_OF_CANVAS = 0.022;
const SMALLEST_CAPITAL_PX = 6;
/** The title comes and goes within this, s. */
const TITLE_FADE_SEC = 0.6;

/**
 * Lays corners and borders, names and title over the joined tiles. `isOverlaid`: tiles have their own rounded corners,
 * so that only borders are drawn. Names and title stay within the safe part of the canvas.
 */
export function layDrawings(
  composition: Composition,
  joined: string,
  isOverlaid: boolean,
): { label: string; notes: string[] } {
  const { builder, request } = composition;
  const { design, tiles } = request;
  let label = joined;
  const edges = edgesOf(composition, isOverlaid);
  if (edges !== undefined) {
    const still = composition.still(edges, 'yuva420p');
    label = builder.chain([label, still], ['overlay=x=0:y=0:eof_action=repeat']);
  }
  if (design.names) {
    for (const tile of tiles) {
      if (tile.pieces.every(({ picture }) => picture === null)) continue;
      const { plate, at } = nameOf(tile, design.canvas);
      const still = composition.still(plate, 'yuva420p');
      const [x, y] = [0, 1].map((side) => alongPath(tile.path, request.fromSec, (box) => at(box)[side]!));
      const when = composition.during(tile.path.seen);
      label = builder.chain([label, still], [`overlay=x=${x}:y=${y}:eof_action=repeat${when}`]);
    }
  }
  if (design.title !== null) label = layTitle(composition, label);
  const unknown = [...new Set(composition.drawings.flatMap(unknownSigns))];
  const notes =
    unknown.length === 0
      ? []
      : [
          `There are no letters here for ${unknown.join(' ')}; open boxes stand in their place. Latin, Greek and Cyrillic letters can be written.`,
        ];
  return { label, notes };
}

function edgesOf({ request }: Composition, isOverlaid: boolean): Drawing | undefined {
  const { design } = request;
  const tiles = request.tiles
    // What moves carries its edge along.
    .filter(({ path }) => path.steps.length === 0)
    .map(({ box, design: own }): TileEdge => {
      const borderPx = own.borderPx ?? 0;
      const roundingPx = own.roundingPx ?? design.roundingPx;
      return { box, roundingPx, borderPx, borderColour: own.borderColour ?? USUAL_BORDER };
    })
    .filter(({ roundingPx, borderPx }) => borderPx > 0 || (roundingPx > 0 && !isOverlaid));
  return tiles.length === 0 ? undefined : { kind: 'edges', size: design.canvas, ground: design.background, tiles };
}

/** A name's plate, and where it lies for each box of its tile: x and y, px. */
export interface LaidName {
  readonly plate: Extract<Drawing, { kind: 'name' }>;
  readonly at: (box: Box) => readonly [number, number];
}

/**
 * A name at the lower left of its tile, moved into the safe part of the canvas where the tile reaches out of it. Its
 * letters are as large as the narrowest box of its tile lets them be, and stay so.
 */
export function nameOf(
  { voice, path }: { readonly voice: { readonly name: string }; readonly path: TilePath },
  canvas: { widthPx: number; heightPx: number },
): LaidName {
  const sizes = restingBoxes(path).map((box) => capitalFor(voice.name, box, canvas));
  const capitalPx = Math.min(...sizes);
  const plate = namePlate(voice.name, capitalPx);
  const inset = Math.max(2, Math.round(capitalPx * 0.8));
  const safe = safeBox(canvas);
  return {
    plate,
    at: (box) => {
      const right = Math.min(box.xPx + box.widthPx, safe.xPx + safe.widthPx) - plate.size.widthPx;
      const bottom = Math.min(box.yPx + box.heightPx - inset, safe.yPx + safe.heightPx) - plate.size.heightPx;
      return [
        evenBelowPx(Math.max(0, Math.min(right, Math.max(box.xPx + inset, safe.xPx)))),
        evenBelowPx(Math.max(0, Math.max(bottom, Math.min(box.yPx, bottom)))),
      ];
    },
  };
}

function capitalFor(name: string, box: Size, canvas: Size): number {
  const most = Math.min(box.heightPx * NAME_OF_TILE, Math.min(canvas.widthPx, canvas.heightPx) * NAME_OF_CANVAS);
  return fittingCapital(name, box.widthPx * 0.8, Math.max(SMALLEST_CAPITAL_PX, most));
}

function layTitle(composition: Composition, label: string): string {
  const { builder, request } = composition;
  const { design, pictures, rate } = request;
  const title = design.title!;
  const safe: Box = safeBox(design.canvas);
  const card = titleCard(title.text, title.subtitle, safe);
  const shown = Math.min(pictures, Math.max(1, Math.round(title.lengthSec * perSecond(rate))));
  const shownSec = shown / perSecond(rate);
  const fadeSec = Math.min(TITLE_FADE_SEC, shownSec / 3);
  const moving = composition.standing(composition.still(card, 'yuva420p'), shown, [
    `fade=t=in:st=0:d=${fadeSec.toFixed(3)}:alpha=1`,
    `fade=t=out:st=${(shownSec - fadeSec).toFixed(3)}:d=${fadeSec.toFixed(3)}:alpha=1`,
  ]);
  const xPx = evenBelowPx(safe.xPx + (safe.widthPx - card.size.widthPx) / 2);
  const yPx = evenBelowPx(safe.yPx + (safe.heightPx - card.size.heightPx) / 2);
  return builder.chain([label, moving], [`overlay=x=${xPx}:y=${yPx}:eof_action=pass`]);
}
