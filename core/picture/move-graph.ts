import { type Box, evenBelowPx, type Size } from './canvas.ts';
import { type Crop, cutFor } from './crop.ts';
import { type PictureRate, perSecond } from './picture-rate.ts';
import { boxAt, restingBoxes, type TilePath } from './tile-path.ts';

/** The stretch of pictures that a chain of filters makes. */
export interface ChainTime {
  /** Session time of its first picture, s. */
  readonly fromSec: number;
  readonly pictures: number;
  readonly rate: PictureRate;
}

/**
 * Size to which a clip is scaled before a moving tile is cut out of it, px: as large as its largest cut needs, and no
 * larger than the clip is.
 */
export function surfaceFor(shown: Size, path: TilePath, crop: (tile: Size) => Crop): Size {
  const wanted = Math.max(...restingBoxes(path).map((box) => box.widthPx / cutFor(shown, box, crop(box)).widthPx));
  const scale = Math.min(1, wanted);
  const side = (px: number): number => Math.max(2, 2 * Math.round((px * scale) / 2));
  return { widthPx: side(shown.widthPx), heightPx: side(shown.heightPx) };
}

/** What one filter of a graph is told with each picture of a change. */
export interface Told {
  /** The filter's own name in the graph. */
  readonly filter: string;
  readonly values: (box: Box) => Readonly<Record<string, number>>;
}

/** A filter that tells others, and what these are at the first picture. */
export interface Telling {
  /** 'sendcmd=...', to stand right before them; none where nothing changes. */
  readonly filters: readonly string[];
  readonly first: Box;
}

/**
 * Tells filters where a moving tile lies, picture by picture while it moves. FFmpeg of 2018 knows no time in the size of
 * `scale`, and `crop` none at all; both take commands. Each is told half a picture early, so that rounding of time
 * stamps does not shift it.
 */
export function tellPath(path: TilePath, time: ChainTime, told: readonly Told[]): Telling {
  const { fromSec, pictures, rate } = time;
  const each = 1 / perSecond(rate);
  const at = (picture: number): Box => boxAt(path, fromSec + picture * each);
  const lines: string[] = [];
  let before = JSON.stringify(at(0));
  for (const { atSec, changeSec } of path.steps) {
    const first = Math.max(1, Math.floor((atSec - fromSec) / each));
    const last = Math.min(pictures - 1, Math.ceil((atSec + changeSec - fromSec) / each));
    for (let picture = first; picture <= last; picture++) {
      const box = at(picture);
      const now = JSON.stringify(box);
      if (now === before) continue;
      before = now;
      const commands = told.flatMap(({ filter, values }) =>
        Object.entries(values(box)).map(([name, value]) => `${filter} ${name} ${value}`),
      );
      lines.push(`${((picture - 0.5) * each).toFixed(4)} ${commands.join(',')}`);
    }
  }
  return { filters: lines.length === 0 ? [] : [`sendcmd=c='${lines.join(';')}'`], first: at(0) };
}

/** The filter that cuts a moving tile out of its surface, and what it is told. */
export function movingCut(name: string, surface: Size, crop: (tile: Size) => Crop): Told {
  return {
    filter: `crop@${name}`,
    values: (box) => {
      const { widthPx, heightPx, xPx, yPx } = cutFor(surface, box, crop(box));
      return { w: widthPx, h: heightPx, x: xPx, y: yPx };
    },
  };
}

/**
 * The filter that scales a moving tile, and what it is told: its size, or always `size`. What was cut by a told filter must
 * be scaled by a told one, after it: `scale` sees only by this that the size before it has changed.
 */
export function movingScale(name: string, size?: Size): Told {
  return {
    filter: `scale@${name}`,
    values: (box) => ({ w: (size ?? box).widthPx, h: (size ?? box).heightPx }),
  };
}

/** A told filter as it stands at the first picture. */
export function toldFilter({ filter, values }: Told, box: Box, more = ''): string {
  const options = Object.entries(values(box)).map(([name, value]) => `${name}=${value}`);
  return `${filter}=${options.join(':')}${more}`;
}

/**
 * FFmpeg's expression, in the video's time `t`, of something that goes along with a path: its value for each box it
 * rests in, gliding between them as the tile does.
 */
export function alongPath(path: TilePath, fromSec: number, valueAt: (box: Box) => number): string {
  let before = valueAt(path.first);
  let text = String(evenBelowPx(before));
  for (const { atSec, changeSec, to } of path.steps) {
    const value = evenBelowPx(valueAt(to));
    const by = value - evenBelowPx(before);
    before = value;
    if (by === 0) continue;
    const late = (atSec - fromSec).toFixed(4);
    const share =
      changeSec === 0 ? `gte(t,${late})` : `st(0,clip((t-${late})/${changeSec.toFixed(4)},0,1))*ld(0)*(3-2*ld(0))`;
    text += `${by < 0 ? '-' : '+'}${Math.abs(by)}*${share}`;
  }
  return path.steps.length === 0 ? text : `'${text}'`;
}
