import type { Box } from './canvas.ts';
import type { Drawing } from './drawings.ts';
import { GraphBuilder } from './filter-graph.ts';
import type { PictureDesign, TileDesign } from './picture-design.ts';
import type { MixSound, VoicePicture, VoicePiece } from './picture-plan.ts';
import { type PictureRate, perSecond, rateText } from './picture-rate.ts';
import type { SeenStretch, TilePath } from './tile-path.ts';

/** A voice with the box of its tile. */
export interface TileSource {
  readonly voice: VoicePicture;
  readonly design: TileDesign;
  readonly pieces: readonly VoicePiece[];
  readonly box: Box;
  /** Where it lies over time, and when it is seen. */
  readonly path: TilePath;
}

/** A moving tile has corners, a border, or comes and goes: this is done at one size before it is brought to its own. */
export function isStaged({ design: own, path }: TileSource, design: PictureDesign): boolean {
  return (own.roundingPx ?? design.roundingPx) > 0 || (own.borderPx ?? 0) > 0 || path.seen !== null;
}

/** The stretches of the video in which a tile is seen; none too for a tile that always is. */
export function stretchesWithin({ path }: TileSource, request: ComposeRequest): SeenStretch[] {
  const { fromSec, pictures, rate } = request;
  const toSec = fromSec + pictures / perSecond(rate);
  return (path.seen ?? []).filter((one) => one.toSec > fromSec && one.fromSec < toSec);
}

/** Numbers of the tiles from the lowest to the topmost: those that grow lie over the others of their order. */
export function stackingOrder(tiles: readonly Pick<TileSource, 'design' | 'path'>[]): number[] {
  const order = ({ design: { order = 0, moments = [] } }: Pick<TileSource, 'design' | 'path'>): [number, number] => [
    order,
    moments.some(({ as }) => as !== 'away') ? 1 : 0,
  ];
  return tiles
    .map((tile, index) => ({ order: order(tile), index }))
    .sort((one, other) => one.order[0] - other.order[0] || one.order[1] - other.order[1] || one.index - other.index)
    .map(({ index }) => index);
}

export interface ComposeRequest {
  readonly design: PictureDesign;
  readonly tiles: readonly TileSource[];
  readonly sound: MixSound | null;
  readonly filters: ReadonlySet<string>;
  readonly rate: PictureRate;
  readonly fromSec: number;
  readonly pictures: number;
  readonly frames: { readonly fromFrame: number; readonly toFrame: number } | null;
}

/** What is shared while a graph is made. */
export class Composition {
  readonly request: ComposeRequest;
  readonly builder = new GraphBuilder();
  readonly drawings: Drawing[] = [];

  constructor(request: ComposeRequest) {
    this.request = request;
  }

  /** Adds a drawing as an input; gives the label of its one picture, in the canvas's colours. */
  still(drawing: Drawing, format: 'yuv420p' | 'yuva420p' | 'gray'): string {
    const index = this.drawings.push(drawing) - 1;
    const options = ['-f', 'png_pipe', '-framerate', rateText(this.request.rate)];
    const input = this.builder.input({ source: { kind: 'drawing', index }, options });
    const { widthPx, heightPx } = drawing.size;
    const colours = format === 'gray' ? [] : [`scale=w=${widthPx}:h=${heightPx}:out_color_matrix=bt709:out_range=tv`];
    return this.builder.chain([`${input}:v:0`], [...colours, `format=${format}`]);
  }

  /** The same picture for some pictures' time. */
  standing(label: string, pictures: number, more: readonly string[] = []): string {
    // setpts takes the rate away, and newer FFmpegs would make 25 pictures a second of a ground without one.
    const rate = `fps=fps=${rateText(this.request.rate)}`;
    return this.builder.chain(
      [label],
      ['loop=loop=-1:size=1:start=0', 'setpts=N', rate, `trim=end_frame=${pictures}`, 'setsar=1', ...more],
    );
  }

  /** `enable` of a filter for stretches of session time; nothing for always. */
  during(seen: TilePath['seen']): string {
    if (seen === null) return '';
    const { fromSec, pictures, rate } = this.request;
    const endSec = pictures / perSecond(rate) + 1;
    const within = (sec: number): string => Math.min(endSec, Math.max(-1, sec - fromSec)).toFixed(4);
    // The end is not part of a stretch: the picture that falls there is the next one's.
    const parts = seen.map((one) => `gte(t,${within(one.fromSec)})*lt(t,${within(one.toSec)})`);
    return `:enable='${parts.length === 0 ? '0' : parts.join('+')}'`;
  }
}
