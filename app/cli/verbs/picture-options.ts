import type { EncodeSpeed, VideoEncoder } from '../../../core/picture/output-arguments.ts';
import type { PictureDesign, SessionSpan } from '../../../core/picture/picture-design.ts';
import type { TilingKind } from '../../../core/picture/tiling.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { voiceNamed } from '../../desk/session/named.ts';
import type { GivenMoment } from '../../picture/given-moments.ts';
import type { PictureSessionOptions } from '../../picture/picture-session.ts';
import type { Trim } from '../../picture/trim.ts';
import { parseSpan } from '../options.ts';

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
