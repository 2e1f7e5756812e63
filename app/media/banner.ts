/** The colours of a picture, by FFmpeg's names; `unknown` where the file does not say. */
export interface BannerColour {
  readonly matrix: string;
  readonly primaries: string;
  readonly transfer: string;
  readonly range: 'tv' | 'pc' | 'unknown';
}

/** One stream as FFmpeg describes it when it opens a file. */
export interface BannerStream {
  /** FFmpeg's number of the stream in its file. */
  readonly index: number;
  readonly kind: 'audio' | 'video' | 'other';
  /** FFmpeg's name of the codec; `none` or `unknown` where it has no decoder. */
  readonly codec: string;
  readonly isDefault: boolean;
  /** A still picture (a cover), no moving one. */
  readonly isCover: boolean;
  /** Hz; 0 where unknown or not sound. */
  readonly rateHz: number;
  /** 0 where unknown or not sound. */
  readonly channels: number;
  /** FFmpeg's name of the channel layout, for example `stereo`. */
  readonly layout: string;
  /** Coded size in px, before turning; 0 where unknown. */
  readonly width: number;
  readonly height: number;
  /** Mean pictures per second; 0 where unknown. */
  readonly pictureRate: number;
  /** The lowest rate at whose times every picture can lie, pictures per second; 0 where unknown. */
  readonly nominalRate: number;
  /** Width of a dot over its height; 1 where unknown. */
  readonly dotAspect: number;
  /** FFmpeg's name of the format of its px, for example `yuv420p10le`; empty where unknown. */
  readonly pixelFormat: string;
  readonly colour: BannerColour;
  readonly isInterlaced: boolean;
  /** The file says that its pictures are whole; where it says neither, older builds do not know. */
  readonly isProgressive: boolean;
  /** How far the picture is to be turned for showing, degrees counter-clockwise. */
  readonly rotationDeg: number;
}

/** What FFmpeg says of a file when it opens it. */
export interface Banner {
  /** FFmpeg's name of the container format, for example `mov,mp4,m4a,3gp,3g2,mj2`. */
  readonly format: string;
  /** Length to 0.01 s; absent where the container does not tell. */
  readonly lengthSec: number | undefined;
  /** FFmpeg reckoned the length from the file's size. */
  readonly lengthIsGuess: boolean;
  readonly streams: readonly BannerStream[];
  /** What an iTunSMPB tag tells of an AAC file without an edit list: frames of encoder delay, and of sound after it. */
  readonly gapless: { readonly delayFrames: number; readonly soundFrames: number } | undefined;
}

const CHANNELS_OF_LAYOUT: Readonly<Record<string, number>> = {
  mono: 1,
  stereo: 2,
  downmix: 2,
  '2.1': 3,
  '3.0': 3,
  '3.1': 4,
  quad: 4,
  'ambisonic 1': 4,
  '4.0': 4,
  '4.1': 5,
  '5.0': 5,
  '5.1': 6,
  '6.0': 6,
  '6.1': 7,
  '7.0': 7,
  '7.1': 8,
  hexagonal: 6,
  octagonal: 8,
};

/**
 * Reads the description FFmpeg prints of its first input. Written against the words of the builds of 2018, 5.1 and 7;
 * gives undefined where FFmpeg could not open the file.
 */
export function readBanner(lines: readonly string[]): Banner | undefined {
  let format: string | undefined;
  let lengthSec: number | undefined;
  let lengthIsGuess = false;
  const streams: BannerStream[] = [];
  let gapless: Banner['gapless'];
  for (const line of lines) {
    if (/Estimating duration from bitrate|Could not find duration/.test(line)) lengthIsGuess = true;
    const input = /^Input #0, (.+?), from '/.exec(line);
    if (input !== null) {
      format = input[1];
      continue;
    }
    if (/^(Output #|Stream mapping:)/.test(line)) break;
    if (format === undefined) continue;
    const length = /^ {2}Duration: (\d+):(\d+):(\d+(?:\.\d+)?),/.exec(line);
    if (length !== null) lengthSec = Number(length[1]) * 3600 + Number(length[2]) * 60 + Number(length[3]);
    const told = /^\s+iTunSMPB\s*:\s*[\dA-F]{8} ([\dA-F]{8}) [\dA-F]{8} ([\dA-F]{16})/i.exec(line);
    if (told !== null) gapless = { delayFrames: parseInt(told[1]!, 16), soundFrames: parseInt(told[2]!, 16) };
    const stream = readStream(line);
    if (stream !== undefined) streams.push(stream);
    const turn = /^\s+displaymatrix: rotation of (-?[\d.]+) degrees/.exec(line);
    const last = streams.at(-1);
    if (turn !== null && last !== undefined) streams[streams.length - 1] = { ...last, rotationDeg: Number(turn[1]) };
  }
  return format === undefined ? undefined : { format, lengthSec, lengthIsGuess, streams, gapless };
}

function readStream(line: string): BannerStream | undefined {
  const head = /^\s+Stream #0:(\d+)(?:\[[^\]]*\])?(?:\([^)]*\))?: (\w+): ([\w.-]+)(.*)$/.exec(line);
  if (head === null) return undefined;
  const rest = head[4] ?? '';
  const layout = /\d+ Hz, ([^,]+)/.exec(rest)?.[1]?.trim() ?? '';
  const size = /, (\d{1,5})x(\d{1,5})(?=[,\s]|$)/.exec(rest);
  return {
    index: Number(head[1]),
    kind: head[2] === 'Audio' ? 'audio' : head[2] === 'Video' ? 'video' : 'other',
    codec: head[3] ?? 'unknown',
    isDefault: rest.includes('(default)'),
    isCover: rest.includes('(attached pic)'),
    rateHz: Number(/, (\d+) Hz/.exec(rest)?.[1] ?? 0),
    channels: channelsOf(layout),
    layout,
    width: Number(size?.[1] ?? 0),
    height: Number(size?.[2] ?? 0),
    pictureRate: Number(/, ([\d.]+) fps/.exec(rest)?.[1] ?? 0),
    nominalRate: rateOf(/, ([\d.]+k?) tbr/.exec(rest)?.[1]),
    dotAspect: dotAspectOf(rest),
    ...formatOf(rest),
    rotationDeg: 0,
  };
}

/** FFmpeg writes 1000 and more as `1k`. */
function rateOf(text: string | undefined): number {
  return text === undefined ? 0 : Number.parseFloat(text) * (text.endsWith('k') ? 1000 : 1);
}

function dotAspectOf(rest: string): number {
  const told = /\bSAR (\d+):(\d+)/.exec(rest);
  const aspect = told === null ? 1 : Number(told[1]) / Number(told[2]);
  return Number.isFinite(aspect) && aspect > 0 ? aspect : 1;
}

/**
 * What stands between the codec and the size: `yuv420p10le(tv, bt2020nc/bt2020/arib-std-b67, progressive)`. Matrix,
 * primaries and transfer are written once where they are the same.
 */
function formatOf(rest: string): Pick<BannerStream, 'pixelFormat' | 'colour' | 'isInterlaced' | 'isProgressive'> {
  const told = /, ([a-z]\w*)(?:\(((?:[^()]|\([^)]*\))*)\))?, \d{1,5}x\d{1,5}/.exec(rest);
  const pixelFormat = told?.[1] ?? '';
  const words = (told?.[2] ?? '').split(',').map((word) => word.trim());
  const range =
    words.find((word) => word === 'tv' || word === 'pc') ?? (pixelFormat.startsWith('yuvj') ? 'pc' : 'unknown');
  const isProgressive = words.includes('progressive');
  const isInterlaced = words.some((word) => /^(top|bottom) (coded )?first/.test(word));
  const names =
    words.find((word) => /^[a-z0-9-]+(\/[a-z0-9-]+\/[a-z0-9-]+)?$/.test(word) && !NO_COLOURS.has(word)) ?? '';
  const [matrix = 'unknown', primaries = matrix, transfer = primaries] = names === '' ? [] : names.split('/');
  return {
    pixelFormat,
    colour: { matrix, primaries, transfer, range: range as BannerColour['range'] },
    isInterlaced,
    isProgressive,
  };
}

const NO_COLOURS: ReadonlySet<string> = new Set(['tv', 'pc', 'progressive']);

function channelsOf(layout: string): number {
  const counted = /^(\d+) channels/.exec(layout);
  if (counted !== null) return Number(counted[1]);
  const name = layout.replace(/\s*\(.*$/, '');
  return CHANNELS_OF_LAYOUT[name] ?? 0;
}
