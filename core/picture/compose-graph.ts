import type { Box } from './canvas.ts';
import { cellsFor } from './cells.ts';
import { type ClipChain, clipChain } from './clip-chain.ts';
import { type ComposeRequest, Composition, type TileSource } from './composition.ts';
import { type Drawing, VOICE_COLOURS, waveBox } from './drawings.ts';
import type { FilterGraph } from './filter-graph.ts';
import { layDrawings } from './lay-drawings.ts';
import type { PictureDesign } from './picture-design.ts';
import type { VoicePiece } from './picture-plan.ts';
import { perSecond, pictureSec } from './picture-rate.ts';

export interface Composed {
  readonly graph: FilterGraph;
  readonly drawings: readonly Drawing[];
  readonly way: 'stack' | 'overlay';
  readonly outputs: { readonly picture: string; readonly sound: string | null };
  /** Of each tile, the part of its first clip that is seen. */
  readonly cuts: readonly (Box | null)[];
  readonly notes: readonly string[];
}

/** Tiles that come and go do so within this, s. */
const COMING_SEC = 0.3;
/** Inputs beyond which each decoder gets two threads: they run beside each other, and each thread holds a picture. */
const MANY_INPUTS = 4;

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

function tileChain(composition: Composition, tile: TileSource): { label: string; cut: Box | null; noted: string[] } {
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
    const fromSec = request.fromSec + pictureSec(at, request.rate);
    if (piece.picture === null) parts.push(drawnVoice(composition, tile, pictures, at));
    else {
      const chain = chainOf(composition, tile, { ...piece, picture: piece.picture }, fromSec, pictures);
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

function chainOf(
  { request }: Composition,
  tile: TileSource,
  piece: VoicePiece & { readonly picture: NonNullable<VoicePiece['picture']> },
  fromSec: number,
  pictures: number,
): ClipChain {
  const chain = clipChain({
    picture: piece.picture,
    place: piece.place,
    size: { widthPx: tile.box.widthPx, heightPx: tile.box.heightPx },
    crop: tile.design.crop,
    mirrored: tile.design.mirrored ?? false,
    tone: tile.voice.tone ?? null,
    rate: request.rate,
    fromSec,
    pictures,
    abilities: { filters: request.filters },
  });
  const count = request.tiles.reduce((sum, one) => sum + one.pieces.length, 0);
  return count > MANY_INPUTS ? { ...chain, options: ['-threads', '2', ...chain.options] } : chain;
}

/** A voice without a picture: its drawn tile, and a line that runs along the waveform. */
function drawnVoice(composition: Composition, tile: TileSource, pictures: number, at: number): string {
  const { builder, request } = composition;
  const { voice, box } = tile;
  const size = { widthPx: box.widthPx, heightPx: box.heightPx };
  const colour = VOICE_COLOURS[voice.colour] ?? VOICE_COLOURS[7];
  const still = composition.still({ kind: 'voice', size, name: voice.name, colour, peaks: voice.peaks }, 'yuv420p');
  const ground = composition.standing(still, pictures);
  if (voice.peaks.length === 0) return ground;
  const wave = waveBox(size);
  const line = composition.still(
    { kind: 'line', size: { widthPx: 2, heightPx: Math.max(2, 2 * Math.round(wave.heightPx / 2)) } },
    'yuva420p',
  );
  const x = `'${wave.xPx}+${wave.widthPx}*(n+${at})/${request.pictures}'`;
  return builder.chain([ground, line], [`overlay=x=${x}:y=${wave.yPx}:eof_action=repeat`, 'format=yuv420p']);
}

/** Cells that can be stacked; undefined where tiles must be laid over a ground. */
function waysToStack(design: PictureDesign, tiles: readonly TileSource[]): Box[] | undefined {
  const isGrey = /^#(..)\1\1$/i.test(design.background);
  const isPlain = tiles.every(({ design: own }) => own.span === undefined);
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
  const order = tiles
    .map((tile, index) => ({ tile, index }))
    .sort((one, other) => (one.tile.design.order ?? 0) - (other.tile.design.order ?? 0) || one.index - other.index);
  for (const { tile, index } of order) {
    const { xPx, yPx } = tile.box;
    const top = shaped(composition, tile, labels[index]!);
    const overlay = `overlay=x=${xPx}:y=${yPx}:eof_action=repeat${composition.during(tile.design.span)}`;
    label = builder.chain([label, top], [overlay]);
  }
  return label;
}

/** A tile with its rounded corners, coming and going softly. */
function shaped(composition: Composition, tile: TileSource, label: string): string {
  const { builder, request } = composition;
  const roundingPx = tile.design.roundingPx ?? request.design.roundingPx;
  let result = label;
  if (roundingPx > 0) {
    const { box } = tile;
    const size = { widthPx: box.widthPx, heightPx: box.heightPx };
    const edge = { box, roundingPx, borderPx: 0, borderColour: '#000000' };
    const mask = composition.standing(composition.still({ kind: 'mask', size, edge }, 'gray'), request.pictures);
    result = builder.chain([builder.chain([result], ['format=yuva420p']), mask], ['alphamerge']);
  }
  const { span } = tile.design;
  if (span === undefined) return result;
  const [from, to] = [span.fromSec - request.fromSec, span.toSec - request.fromSec];
  const lengthSec = pictureSec(request.pictures, request.rate);
  const comes = from > 0 ? [`fade=t=in:st=${from.toFixed(4)}:d=${COMING_SEC}:alpha=1`] : [];
  const goes =
    to < lengthSec ? [`fade=t=out:st=${Math.max(0, to - COMING_SEC).toFixed(4)}:d=${COMING_SEC}:alpha=1`] : [];
  return builder.chain([result], ['format=yuva420p', ...comes, ...goes]);
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
