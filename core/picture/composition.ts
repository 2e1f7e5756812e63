import type { Box } from './canvas.ts';
import type { Drawing } from './drawings.ts';
import { GraphBuilder } from './filter-graph.ts';
import type { PictureDesign, SessionSpan, TileDesign } from './picture-design.ts';
import type { MixSound, VoicePicture, VoicePiece } from './picture-plan.ts';
import { type PictureRate, rateText } from './picture-rate.ts';

/** A voice with the box of its tile. */
export interface TileSource {
  readonly voice: VoicePicture;
  readonly design: TileDesign;
  readonly pieces: readonly VoicePiece[];
  readonly box: Box;
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
    return this.builder.chain(
      [label],
      ['loop=loop=-1:size=1:start=0', 'setpts=N', `trim=end_frame=${pictures}`, 'setsar=1', ...more],
    );
  }

  /** `enable` of a filter for a stretch of session time; nothing for always. */
  during(span: SessionSpan | undefined): string {
    if (span === undefined) return '';
    const { fromSec } = this.request;
    return `:enable='between(t,${(span.fromSec - fromSec).toFixed(4)},${(span.toSec - fromSec).toFixed(4)})'`;
  }
}
