import type { Size } from './canvas.ts';
import { type Composition, isStaged, stretchesWithin, type TileSource } from './composition.ts';
import { USUAL_BORDER } from './drawings.ts';
import { movingScale, tellPath, toldFilter } from './move-graph.ts';
import { pictureSec, rateText } from './picture-rate.ts';
import { largestOf, restingBoxes, type SeenStretch } from './tile-path.ts';

/** Side of the small pictures that say how much of a tile is seen, px. */
const OPACITY_PX = 16;

/**
 * A tile that is laid over a ground: with its corners, its border where it moves, coming and going, and at last at its
 * size. All this is done while its pictures are of one size; only `scale` is told to make others of them.
 */
export function laidTile(composition: Composition, tile: TileSource, label: string): string {
  const { builder, request } = composition;
  const { path, box } = tile;
  const isMoving = path.steps.length > 0;
  if (isMoving && !isStaged(tile, request.design)) return label;
  const size: Size = isMoving ? largestOf(restingBoxes(path)) : box;
  let result = isMoving ? bordered(composition, tile, label, size) : label;
  const mask = maskOf(composition, tile, size);
  if (mask !== undefined) {
    result = builder.chain([builder.chain([result], ['format=yuva420p']), mask], ['alphamerge']);
  }
  const [only, ...more] = stretchesWithin(tile, request);
  const fades = only === undefined || more.length > 0 ? [] : fadesOf(composition, only);
  if (fades.length > 0) result = builder.chain([result], ['format=yuva420p', ...fades]);
  if (!isMoving) return result;
  const scale = movingScale(`e${request.tiles.indexOf(tile)}`);
  const telling = tellPath(path, request, [scale]);
  return builder.chain([result], [...telling.filters, toldFilter(scale, telling.first, ':flags=bicubic'), 'setsar=1']);
}

/** The border of a moving tile is drawn for its usual box, and grows and shrinks with it. */
function bordered(composition: Composition, { design, box }: TileSource, label: string, shown: Size): string {
  const { builder, request } = composition;
  const borderPx = design.borderPx ?? 0;
  if (borderPx === 0) return label;
  const { widthPx, heightPx } = box;
  const edge = {
    box: { xPx: 0, yPx: 0, widthPx, heightPx },
    roundingPx: design.roundingPx ?? request.design.roundingPx,
    borderPx,
    borderColour: design.borderColour ?? USUAL_BORDER,
  };
  const size = { widthPx, heightPx };
  const still = composition.still({ kind: 'edges', size, ground: '#000000', tiles: [edge] }, 'yuva420p');
  const scaled = builder.chain([still], [`scale=w=${shown.widthPx}:h=${shown.heightPx}`]);
  return builder.chain([label, scaled], ['overlay=x=0:y=0:eof_action=repeat', 'format=yuv420p']);
}

/** What of a tile is opaque: its rounded corners, and the several stretches in which it is seen; undefined where all is. */
function maskOf(composition: Composition, tile: TileSource, shown: Size): string | undefined {
  const { builder, request } = composition;
  const { design, box } = tile;
  const roundingPx = design.roundingPx ?? request.design.roundingPx;
  const stretches = stretchesWithin(tile, request);
  const opacity = stretches.length > 1 ? opacityOf(composition, stretches, shown) : undefined;
  if (roundingPx === 0) return opacity;
  const size = { widthPx: box.widthPx, heightPx: box.heightPx };
  const edge = { box, roundingPx, borderPx: 0, borderColour: '#000000' };
  const still = composition.still({ kind: 'mask', size, edge }, 'gray');
  const fits = shown.widthPx === size.widthPx && shown.heightPx === size.heightPx;
  const scaled = fits ? still : builder.chain([still], [`scale=w=${shown.widthPx}:h=${shown.heightPx}`, 'format=gray']);
  const corners = composition.standing(scaled, request.pictures);
  return opacity === undefined ? corners : builder.chain([corners, opacity], ['blend=all_mode=multiply']);
}

/** Small grey pictures, as light as a tile is opaque: one fade after another would find clear what the first one left. */
function opacityOf({ builder, request }: Composition, stretches: readonly SeenStretch[], shown: Size): string {
  const { fromSec, rate, pictures } = request;
  const lengthSec = pictureSec(pictures, rate);
  const parts = stretches.map(({ fromSec: from, toSec: to, comesSec, goesSec }) => {
    const [begins, ends] = [Math.max(-1, from - fromSec), Math.min(lengthSec + 1, to - fromSec)];
    const comes = comesSec === 0 || begins < 0 ? `gte(T,${begins.toFixed(4)})` : `(T-${begins.toFixed(4)})/${comesSec}`;
    const goes = goesSec === 0 || ends > lengthSec ? `lt(T,${ends.toFixed(4)})` : `(${ends.toFixed(4)}-T)/${goesSec}`;
    return `clip(min(${comes},${goes}),0,1)`;
  });
  const side = `${OPACITY_PX}x${OPACITY_PX}`;
  return builder.chain(
    [],
    [
      `color=c=white:s=${side}:r=${rateText(rate)}`,
      'format=gray',
      `geq=lum='255*(${parts.join('+')})'`,
      `trim=end_frame=${pictures}`,
      `scale=w=${shown.widthPx}:h=${shown.heightPx}:flags=neighbor`,
      'format=gray',
      'setsar=1',
    ],
  );
}

function fadesOf({ request }: Composition, { fromSec, toSec, comesSec, goesSec }: SeenStretch): string[] {
  const lengthSec = pictureSec(request.pictures, request.rate);
  const [from, to] = [fromSec - request.fromSec, toSec - request.fromSec];
  const fade = (kind: 'in' | 'out', at: number, takesSec: number): string =>
    `fade=t=${kind}:st=${at.toFixed(4)}:d=${takesSec.toFixed(4)}:alpha=1`;
  return [
    ...(from > 0 && comesSec > 0 ? [fade('in', from, comesSec)] : []),
    ...(to < lengthSec && goesSec > 0 ? [fade('out', Math.max(0, to - goesSec), goesSec)] : []),
  ];
}
