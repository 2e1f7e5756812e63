import type { Box, Size } from './canvas.ts';
import { type ClipChain, clipChain, usualCrop } from './clip-chain.ts';
import { shownSize } from './clip-picture.ts';
import { type Composition, isStaged, type TileSource } from './composition.ts';
import { CENTRED, type Crop, cutFor } from './crop.ts';
import { VOICE_COLOURS, waveBox } from './drawings.ts';
import { movingCut, movingScale, surfaceFor, tellPath, toldFilter } from './move-graph.ts';
import type { VoicePiece } from './picture-plan.ts';
import { perSecond, pictureSec } from './picture-rate.ts';
import { largestOf, restingBoxes } from './tile-path.ts';

/** Inputs beyond which each decoder gets two threads: they run beside each other, and each thread holds a picture. */
const MANY_INPUTS = 4;

type FilmedPiece = VoicePiece & { readonly picture: NonNullable<VoicePiece['picture']> };

/** A stretch of a tile, counted in pictures of the video. */
interface Stretch {
  readonly at: number;
  readonly pictures: number;
}

/** The chain of a voice's tile: its clips one after another, or a drawing, at the canvas's times and the tile's size. */
export function tileChain(
  composition: Composition,
  tile: TileSource,
): { label: string; cut: Box | null; noted: string[] } {
  const { builder, request } = composition;
  const noted: string[] = [];
  const parts: string[] = [];
  let cut: Box | null = null;
  let at = 0;
  for (const [index, piece] of tile.pieces.entries()) {
    const isLast = index === tile.pieces.length - 1;
    const until = isLast
      ? request.pictures
      : Math.min(request.pictures, Math.round((piece.toSec - request.fromSec) * perSecond(request.rate)));
    const pictures = until - at;
    if (pictures <= 0) continue;
    const stretch = { at, pictures };
    if (piece.picture === null) parts.push(drawnVoice(composition, tile, stretch));
    else {
      const chain = chainOf(composition, tile, { ...piece, picture: piece.picture }, stretch);
      const input = builder.input({ source: { kind: 'file', path: piece.picture.file }, options: chain.options });
      parts.push(builder.chain([`${input}:${piece.picture.streamIndex}`], chain.filters));
      cut ??= chain.cut;
      if (chain.note !== undefined) noted.push(`${tile.voice.name} ${chain.note}`);
    }
    at = until;
  }
  const [first] = parts;
  const label = parts.length === 1 ? first! : builder.chain(parts, [`concat=n=${parts.length}:v=1:a=0`]);
  return { label, cut, noted };
}

function chainOf(composition: Composition, tile: TileSource, piece: FilmedPiece, stretch: Stretch): ClipChain {
  const { request } = composition;
  const { path, box, design } = tile;
  const shown = shownSize(piece.picture);
  const cropFor = (size: Size): Crop => design.crop ?? usualCrop(shown, size);
  const isMoving = path.steps.length > 0;
  const surface = isMoving ? surfaceFor(shown, path, cropFor) : { widthPx: box.widthPx, heightPx: box.heightPx };
  const chain = clipChain({
    picture: piece.picture,
    place: piece.place,
    size: surface,
    crop: isMoving ? CENTRED : design.crop,
    mirrored: design.mirrored ?? false,
    tone: tile.voice.tone ?? null,
    rate: request.rate,
    fromSec: request.fromSec + pictureSec(stretch.at, request.rate),
    pictures: stretch.pictures,
    abilities: { filters: request.filters },
  });
  const count = request.tiles.reduce((sum, one) => sum + one.pieces.length, 0);
  const options = count > MANY_INPUTS ? ['-threads', '2', ...chain.options] : chain.options;
  if (!isMoving) return { ...chain, options };
  const filters = [...chain.filters, ...movingFilters(composition, tile, stretch, surface, cropFor)];
  return { ...chain, options, filters, cut: cutFor(shown, box, cropFor(box)) };
}

/** What cuts a moving tile out of its surface and brings it to its size, picture by picture. */
function movingFilters(
  composition: Composition,
  tile: TileSource,
  { at, pictures }: Stretch,
  surface: Size,
  cropFor: (size: Size) => Crop,
): string[] {
  const { request } = composition;
  const { rate } = request;
  const name = `t${request.tiles.indexOf(tile)}p${at}`;
  const cut = movingCut(name, surface, cropFor);
  const scale = movingScale(name, isStaged(tile, request.design) ? largestOf(restingBoxes(tile.path)) : undefined);
  const time = { fromSec: request.fromSec + pictureSec(at, rate), pictures, rate };
  const telling = tellPath(tile.path, time, [cut, scale]);
  return [
    ...telling.filters,
    toldFilter(cut, telling.first),
    toldFilter(scale, telling.first, ':flags=bicubic'),
    'setsar=1',
  ];
}

/** A voice without a picture: its drawn tile, and a line that runs along the waveform. */
function drawnVoice(composition: Composition, tile: TileSource, stretch: Stretch): string {
  const { builder, request } = composition;
  const { voice, path } = tile;
  const { at, pictures } = stretch;
  const { widthPx, heightPx } = largestOf(restingBoxes(path));
  const size = { widthPx, heightPx };
  const colour = VOICE_COLOURS[voice.colour] ?? VOICE_COLOURS[7];
  const still = composition.still({ kind: 'voice', size, name: voice.name, colour, peaks: voice.peaks }, 'yuv420p');
  const ground = composition.standing(still, pictures);
  const moved = (label: string): string =>
    path.steps.length === 0
      ? label
      : builder.chain(
          [label],
          movingFilters(composition, tile, stretch, size, () => CENTRED),
        );
  if (voice.peaks.length === 0) return moved(ground);
  const wave = waveBox(size);
  const line = composition.still(
    { kind: 'line', size: { widthPx: 2, heightPx: Math.max(2, 2 * Math.round(wave.heightPx / 2)) } },
    'yuva420p',
  );
  const x = `'${wave.xPx}+${wave.widthPx}*(n+${at})/${request.pictures}'`;
  return moved(builder.chain([ground, line], [`overlay=x=${x}:y=${wave.yPx}:eof_action=repeat`, 'format=yuv420p']));
}
