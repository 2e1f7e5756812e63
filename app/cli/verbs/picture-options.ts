import { type Command, InvalidArgumentError, Option } from 'commander';
import type { EncodeSpeed, VideoEncoder } from '../../../core/picture/output-arguments.ts';
import type { PictureDesign, SessionSpan } from '../../../core/picture/picture-design.ts';
import type { TilingKind } from '../../../core/picture/tiling.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { voiceNamed } from '../../desk/session/named.ts';
import type { GivenMoment } from '../../picture/given-moments.ts';
import type { PictureSessionOptions } from '../../picture/picture-session.ts';
import type { Trim } from '../../picture/trim.ts';
import { numberWithin, parseSpan } from '../options.ts';

/** What `partsong picture` is given. */
export interface PictureOptions {
  out?: string;
  canvas?: string;
  fps?: string;
  tiling?: TilingKind;
  lead?: string;
  title?: string;
  subtitle?: string;
  names?: boolean;
  mirror?: string[];
  match?: boolean;
  enter?: string[];
  grow?: string[];
  rounding?: number;
  background?: string;
  fade?: number;
  trim?: Trim;
  encoder: VideoEncoder | 'hardware';
  speed: EncodeSpeed;
  cover?: string;
  guide?: string;
  editList?: 'otio' | 'edl';
  gather?: string;
  link?: boolean;
  plan?: boolean;
  json?: boolean;
}

/** How the picture looks: what `designMaker` and `momentsReader` read. */
export function addLook(command: Command): Command {
  return command
    .option('--canvas <size>', 'WIDTHxHEIGHT in px, or 16:9, 9:16, 1:1, 4:5 (1080 px on the shorter side)')
    .option(
      '--fps <n>',
      'pictures per second: 23.976, 24, 25, 29.97, 30, 48, 50, 59.94, 60 (that of the fastest clip, or higher to keep within 10 ms)',
    )
    .addOption(new Option('--tiling <kind>', 'how the tiles lie').choices(['rows', 'lead', 'ranks', 'strip']))
    .option('--lead <name>', 'the voice in the large tile of "lead", by (part of) its name')
    .option('--title <text>', 'a title card over the beginning')
    .option('--subtitle <text>', 'a smaller line on the title card')
    .option('--names', "write the voices' names into their tiles")
    .option('--mirror <name...>', 'voices whose picture is to be mirrored, by (part of) their names')
    .option('--enter <name=when...>', 'show a tile only then: NAME=5-12 (bars), NAME=0:20-0:45, or NAME=solo')
    .option(
      '--grow <name=when...>',
      'let a tile be large then, while the others make room; all=solo: each in its solos',
    )
    .option('--match', 'bring exposure and white balance of the clips nearer to one another')
    .option('--rounding <px>', 'radius of the corners of the tiles', numberWithin('The rounding', 0, 400))
    .option('--background <colour>', 'colour between the tiles, #rrggbb', colour)
    .option('--fade <s>', 'from black at the beginning and to black at the end', numberWithin('The fade', 0, 20));
}

function colour(text: string): string {
  if (!/^#[0-9a-f]{6}$/i.test(text)) throw new InvalidArgumentError('A colour is #rrggbb, for example #141414.');
  return text;
}

/** What was chosen in the session, or what is usual, with what the options say otherwise. */
export async function designMaker(options: PictureOptions): Promise<PictureSessionOptions['design']> {
  const { parseCanvas } = await import('../../../core/picture/canvas.ts');
  const { parsePictureRate } = await import('../../../core/picture/picture-rate.ts');
  const { withTile } = await import('../../../core/picture/picture-design.ts');
  const { designOf, onCanvas, usualPicture } = await import('../../../core/session/picture-choice.ts');
  const canvas = options.canvas === undefined ? undefined : parseCanvas(options.canvas);
  const rate = options.fps === undefined ? undefined : parsePictureRate(options.fps);
  return (session): PictureDesign => {
    const { voices } = session;
    const kept = session.picture ?? usualPicture();
    const chosen = canvas === undefined ? kept : onCanvas(kept, canvas);
    const design = designOf(
      chosen,
      voices.map(({ id }) => id),
    );
    const { tiling, title, lead, background, rounding, fade, names, mirror = [] } = options;
    const named: PictureDesign = {
      ...design,
      rate: rate ?? design.rate,
      tiling: tiling === undefined ? design.tiling : { ...design.tiling, kind: tiling },
      leadId: lead === undefined ? (design.leadId ?? null) : voiceNamed(voices, lead).id,
      background: background ?? design.background,
      roundingPx: rounding ?? design.roundingPx,
      names: names ?? design.names,
      title:
        title === undefined ? design.title : { text: title, subtitle: options.subtitle ?? '', lengthSec: TITLE_SEC },
      fade: fade === undefined ? design.fade : { inSec: fade, outSec: fade },
    };
    return mirror.reduce((made, name) => withTile(made, voiceNamed(voices, name).id, { mirrored: true }), named);
  };
}

/** What was given of tiles at times, read once the session is known. */
export async function momentsReader({
  enter = [],
  grow = [],
}: PictureOptions): Promise<PictureSessionOptions['moments']> {
  if (enter.length + grow.length === 0) return undefined;
  const { readWhen } = await import('../../picture/given-moments.ts');
  return (session) => {
    const read = (text: string): GivenMoment => {
      const at = text.lastIndexOf('=');
      if (at < 1) throw new PartsongError('bad-option', `"${text}" does not say when.`, WHEN);
      const [name, when] = [text.slice(0, at), text.slice(at + 1)];
      return {
        voiceId: name === 'all' ? null : voiceNamed(session.voices, name).id,
        when: readWhen(when, session, timesOf),
      };
    };
    return { enter: enter.map(read), grow: grow.map(read) };
  };
}

const WHEN = 'Write NAME=5-12 for bars, NAME=0:20-0:45 for times, or NAME=solo.';

function timesOf(text: string): SessionSpan {
  try {
    return parseSpan(text);
  } catch {
    throw new PartsongError('bad-option', `"${text}" is no stretch of bars or of time.`, WHEN);
  }
}

/** A title is read within this, s. */
const TITLE_SEC = 4;
