import type { Box } from './canvas.ts';
import { cellsFor } from './cells.ts';
import { type ComposeRequest, Composition, stackingOrder, type TileSource } from './composition.ts';
import type { Drawing } from './drawings.ts';
import type { FilterGraph } from './filter-graph.ts';
import { layDrawings } from './lay-drawings.ts';
import { laidTile } from './lay-tile.ts';
import { alongPath } from './move-graph.ts';
import type { PictureDesign } from './picture-design.ts';
import { pictureSec } from './picture-rate.ts';
import { tileChain } from './tile-chain.ts';

export interface Composed {
  readonly graph: FilterGraph;
  readonly drawings: readonly Drawing[];
  readonly way: 'stack' | 'overlay';
  readonly outputs: { readonly picture: string; readonly sound: string | null };
  /** Of each tile, the part of its first clip that is seen. */
  readonly cuts: readonly (Box | null)[];
  readonly notes: readonly string[];
}

/** Makes the graph of a canvas: every tile's chain, the way they are put together, names, title, fades, and the sound. */
export function composeGraph(request: ComposeRequest): Composed {
  const { design, tiles, rate, pictures } = request;
  const composition = new Composition(request);
  const { builder } = composition;
  const cuts: (Box | null)[] = [];
  const notes: string[] = [];
  const labels = tiles.map((tile) => {
    const { label, cut, noted } = tileChain(composition, tile);
    cuts.push(cut);
    notes.push(...noted);
    return label;
  });
  const cells = waysToStack(design, tiles);
  const joined = cells === undefined ? overlaid(composition, labels) : stacked(composition, labels, cells);
  const { label, notes: signs } = layDrawings(composition, joined, cells === undefined);
  const { inSec, outSec } = design.fade;
  const lengthSec = pictureSec(pictures, rate);
  const picture = builder.chain(
    [label],
    [
      ...(inSec > 0 ? [`fade=t=in:st=0:d=${inSec.toFixed(3)}`] : []),
      ...(outSec > 0 ? [`fade=t=out:st=${Math.max(0, lengthSec - outSec).toFixed(3)}:d=${outSec.toFixed(3)}`] : []),
      'setparams=range=tv:color_primaries=bt709:color_trc=bt709:colorspace=bt709',
      'format=yuv420p',
    ],
    'picture',
  );
  const sound = soundChain(composition);
  return {
    graph: builder.graph(),
    drawings: composition.drawings,
    way: cells === undefined ? 'overlay' : 'stack',
    outputs: { picture, sound },
    cuts,
    notes: [...notes, ...signs],
  };
}

/** Cells that can be stacked; undefined where tiles must be laid over a ground. */
function waysToStack(design: PictureDesign, tiles: readonly TileSource[]): Box[] | undefined {
  const isGrey = /^#(..)\1\1$/i.test(design.background);
  const isPlain = tiles.every(({ path }) => path.seen === null && path.steps.length === 0);
  if (!isGrey || !isPlain) return undefined;
  return cellsFor(
    design.canvas,
    tiles.map(({ box }) => box),
  );
}

function stacked({ builder, request }: Composition, labels: readonly string[], cells: readonly Box[]): string {
  const colour = request.design.background.replace('#', '0x');
  const padded = labels.map((label, index) => {
    const { box } = request.tiles[index]!;
    const cell = cells[index]!;
    if (cell.widthPx === box.widthPx && cell.heightPx === box.heightPx) return label;
    const place = `x=${box.xPx - cell.xPx}:y=${box.yPx - cell.yPx}`;
    return builder.chain([label], [`pad=w=${cell.widthPx}:h=${cell.heightPx}:${place}:color=${colour}`]);
  });
  if (padded.length === 1) return padded[0]!;
  const layout = cells.map(({ xPx, yPx }) => `${xPx}_${yPx}`).join('|');
  return builder.chain(padded, [`xstack=inputs=${padded.length}:layout=${layout}`]);
}

function overlaid(composition: Composition, labels: readonly string[]): string {
  const { builder, request } = composition;
  const { design, tiles, pictures } = request;
  const ground = composition.still({ kind: 'ground', size: design.canvas, colour: design.background }, 'yuv420p');
  let label = composition.standing(ground, pictures);
  for (const index of stackingOrder(tiles)) {
    const tile = tiles[index]!;
    const top = laidTile(composition, tile, labels[index]!);
    const [x, y] = (['xPx', 'yPx'] as const).map((side) => alongPath(tile.path, request.fromSec, (box) => box[side]));
    const overlay = `overlay=x=${x}:y=${y}:eof_action=repeat${composition.during(tile.path.seen)}`;
    label = builder.chain([label, top], [overlay]);
  }
  return label;
}

/** The mix, cut to the video by frames; silence where it ends before the picture. */
function soundChain({ builder, request }: Composition): string | null {
  const { sound, frames, design } = request;
  if (sound === null || frames === null) return null;
  const input = builder.input({ source: { kind: 'file', path: sound.file }, options: [] });
  const { inSec, outSec } = design.fade;
  const length = frames.toFrame - frames.fromFrame;
  const lengthSec = length / sound.rateHz;
  return builder.chain(
    [`${input}:a:0`],
    [
      `atrim=start_sample=${frames.fromFrame}:end_sample=${frames.toFrame}`,
      'asetpts=PTS-STARTPTS',
      ...(sound.gainDb === 0 ? [] : [`volume=volume=${sound.gainDb.toFixed(3)}dB:precision=float`]),
      ...(inSec > 0 ? [`afade=t=in:st=0:d=${inSec.toFixed(3)}`] : []),
      ...(outSec > 0 ? [`afade=t=out:st=${Math.max(0, lengthSec - outSec).toFixed(3)}:d=${outSec.toFixed(3)}`] : []),
      `apad=whole_len=${length}`,
    ],
    'sound',
  );
}
