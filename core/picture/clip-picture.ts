import { type Box, evenBelowPx, type Size } from './canvas.ts';

/** The colours of a clip, in the words FFmpeg uses; `unknown` where the clip does not say. */
export interface ClipColour {
  readonly matrix: string;
  readonly primaries: string;
  readonly transfer: string;
  /** Black at 16 and white at 235 ('tv'), or all of 0 to 255 ('pc'). */
  readonly range: 'tv' | 'pc' | 'unknown';
}

/** The moving picture of a clip, as far as a canvas has to know it. */
export interface ClipPicture {
  readonly file: string;
  /** FFmpeg's number of the stream in its file. */
  readonly streamIndex: number;
  /** Container time of clip time zero, s. */
  readonly zeroSec: number;
  /** Clip time of the first picture, and of the end of the last, s. */
  readonly startSec: number;
  readonly endSec: number;
  /** Mean pictures per second; 0 where unknown. */
  readonly rate: number;
  /** Pictures lie at uneven distances. */
  readonly isUneven: boolean;
  /** Size as coded, px. */
  readonly coded: Size;
  /** Width of a dot over its height. */
  readonly dotAspect: number;
  /** How far the picture is to be turned for showing, degrees counter-clockwise, a multiple of 90. */
  readonly rotationDeg: number;
  readonly isInterlaced: boolean;
  /** The file does not say whether it is; each picture does when it is decoded. */
  readonly mayBeInterlaced?: boolean;
  readonly colour: ClipColour;
  /** The container can be entered in its middle at a given time without loss. */
  readonly canSeek: boolean;
  /** How much faster the time stamps run than the sound's count of samples, ppm; absent where they agree. See picture-clock.ts. */
  readonly soundPpm?: number;
  /** Clip time at which the sound ends by its stamps, s; absent where the container does not tell exactly. */
  readonly soundEndSec?: number;
}

/** Transfer functions of pictures with a high dynamic range: ITU-R BT.2100 hybrid log-gamma and perceptual quantizer. */
const HIGH_RANGE: Readonly<Record<string, string>> = { 'arib-std-b67': 'HLG', smpte2084: 'PQ' };

/** 'HLG' or 'PQ' for a clip of high dynamic range; undefined for others. */
export function highRangeOf({ transfer }: ClipColour): string | undefined {
  return HIGH_RANGE[transfer];
}

/** Quarter turns clockwise that show a clip upright, 0 to 3. */
export function quarterTurns(rotationDeg: number): number {
  return ((Math.round(-rotationDeg / 90) % 4) + 4) % 4;
}

/** Size of a clip as it is shown: turned, with square dots, px (even). */
export function shownSize({ coded, dotAspect, rotationDeg }: ClipPicture): Size {
  const widthPx = Math.max(2, evenBelowPx(coded.widthPx * dotAspect));
  const heightPx = Math.max(2, evenBelowPx(coded.heightPx));
  return quarterTurns(rotationDeg) % 2 === 0 ? { widthPx, heightPx } : { widthPx: heightPx, heightPx: widthPx };
}

/** What one FFmpeg can do, by the names of its parts. */
export interface PictureAbilities {
  readonly filters: ReadonlySet<string>;
}

/** Filters that bring a clip's colours to BT.709, and what the user should know of it. */
export interface ColourChain {
  readonly filters: readonly string[];
  readonly note: string | undefined;
}

/** Luminance of reference white in BT.2100 programmes (ITU-R BT.2408), cd/m2: it becomes white of BT.709. */
const REFERENCE_WHITE = 203;

/**
 * Colours after scaling: a high dynamic range is tone-mapped (linear light by zscale, Hable's curve, BT.709); where the
 * FFmpeg lacks zscale or tonemap the picture is only relabelled, which the note says.
 */
export function colourChain(colour: ClipColour, abilities: PictureAbilities): ColourChain {
  const kind = highRangeOf(colour);
  if (kind === undefined) return { filters: ['format=yuv420p'], note: undefined };
  if (!abilities.filters.has('zscale') || !abilities.filters.has('tonemap')) {
    return {
      filters: ['format=yuv420p'],
      note: `was filmed with a high dynamic range (${kind}), and this FFmpeg has no zscale and tonemap to convert it: it will look pale. A full FFmpeg shows it right.`,
    };
  }
  const primaries = colour.primaries === 'unknown' ? 'bt2020' : colour.primaries;
  const matrix = zscaleMatrix(colour.matrix);
  const range = colour.range === 'pc' ? 'full' : 'limited';
  return {
    filters: [
      `zscale=tin=${colour.transfer}:pin=${primaries}:min=${matrix}:rin=${range}:t=linear:npl=${REFERENCE_WHITE}`,
      'format=gbrpf32le',
      'zscale=p=bt709',
      'tonemap=tonemap=hable:desat=0',
      'zscale=t=bt709:m=bt709:p=bt709:r=limited',
      'format=yuv420p',
    ],
    note: `was filmed with a high dynamic range (${kind}); its brightness and colours are mapped to those of ordinary screens (BT.709).`,
  };
}

function zscaleMatrix(matrix: string): string {
  return matrix === 'unknown'
    ? '2020_ncl'
    : matrix === 'bt2020nc'
      ? '2020_ncl'
      : matrix === 'bt2020c'
        ? '2020_cl'
        : matrix;
}

/** Lines above which a clip that does not tell its colours is taken for BT.709; below it is BT.601. Common practice. */
const HIGH_DEFINITION_LINES = 720;

/** Scales to a size, bringing the clip's colour matrix and range to BT.709 (not those of a high dynamic range). */
export function scaleFilter(picture: ClipPicture, size: Size): string {
  const { colour } = picture;
  const base = `scale=w=${size.widthPx}:h=${size.heightPx}:flags=bicubic`;
  if (highRangeOf(colour) !== undefined) return base;
  const range = colour.range === 'pc' ? 'pc' : 'tv';
  return `${base}:in_color_matrix=${scaleMatrix(picture)}:in_range=${range}:out_color_matrix=bt709:out_range=tv`;
}

function scaleMatrix({ colour, coded }: ClipPicture): string {
  switch (colour.matrix) {
    case 'bt709':
      return 'bt709';
    case 'bt2020nc':
    case 'bt2020c':
      return 'bt2020';
    case 'smpte240m':
      return 'smpte240m';
    case 'fcc':
      return 'fcc';
    case 'smpte170m':
    case 'bt470bg':
      return 'bt601';
    default:
      return Math.min(coded.heightPx, coded.widthPx) >= HIGH_DEFINITION_LINES ? 'bt709' : 'bt601';
  }
}

/** Makes whole pictures of interlaced ones, as many a second as before; whole ones pass untouched. */
export function deinterlaceFilters({ isInterlaced, mayBeInterlaced }: ClipPicture): string[] {
  if (!isInterlaced && mayBeInterlaced !== true) return [];
  return [`yadif=mode=send_frame:parity=auto:deint=${isInterlaced ? 'all' : 'interlaced'}`];
}

/** Turns and mirrors: what comes before the cut, so that it is cut as it is shown. */
export function uprightFilters(picture: ClipPicture, mirrored: boolean): string[] {
  const turns: readonly string[][] = [[], ['transpose=clock'], ['hflip', 'vflip'], ['transpose=cclock']];
  return [...turns[quarterTurns(picture.rotationDeg)]!, ...(mirrored ? ['hflip'] : [])];
}

/** The cut in px of the turned picture before its dots are made square. */
export function cutFilter(picture: ClipPicture, cut: Box): string[] {
  const turned = quarterTurns(picture.rotationDeg) % 2 === 1;
  const { coded, dotAspect } = picture;
  const whole = turned ? { widthPx: coded.heightPx, heightPx: coded.widthPx } : coded;
  const acrossX = turned ? 1 : dotAspect;
  const acrossY = turned ? dotAspect : 1;
  const box = {
    xPx: evenBelowPx(cut.xPx / acrossX),
    yPx: evenBelowPx(cut.yPx / acrossY),
    widthPx: Math.min(whole.widthPx, evenBelowPx(cut.widthPx / acrossX)),
    heightPx: Math.min(whole.heightPx, evenBelowPx(cut.heightPx / acrossY)),
  };
  if (box.widthPx === whole.widthPx && box.heightPx === whole.heightPx) return [];
  return [`crop=w=${box.widthPx}:h=${box.heightPx}:x=${box.xPx}:y=${box.yPx}`];
}
