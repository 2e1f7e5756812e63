import { access, constants, open, stat } from 'node:fs/promises';
import { PartsongError } from '../../core/signal/fault.ts';
import { deadFfmpegFault } from './ffmpeg.ts';
import { ffmpegFault, type RunEnd, wasEnded } from './run.ts';
import { systemCode } from './whole-file.ts';

/** Size of a clip that is there, is a file, is not empty and may be read; else the fault that says which it is not. */
export async function sizeOfClip(file: string): Promise<number> {
  const facts = await stat(file).catch((error: unknown) => {
    throw openFault(file, error);
  });
  if (facts.isDirectory()) {
    throw new PartsongError('file-unreadable', `${file} is a folder, not a clip.`, 'Name the clips inside it.', file);
  }
  if (!facts.isFile()) {
    const message = `${file} is not a plain file, so it cannot be read as a clip.`;
    throw new PartsongError('file-unreadable', message, 'Copy the clip into a file and use that.', file);
  }
  if (facts.size === 0) {
    const nextStep = 'Copy it from the phone again; the copy was probably interrupted.';
    throw new PartsongError('file-empty', `${file} is empty (0 bytes).`, nextStep, file);
  }
  await access(file, constants.R_OK).catch((error: unknown) => {
    throw openFault(file, error);
  });
  return facts.size;
}

/** The fault of a clip that the system will not open. */
export function openFault(file: string, cause: unknown): PartsongError {
  switch (systemCode(cause)) {
    case 'ENOENT':
    case 'ENOTDIR':
      return new PartsongError('file-missing', `${file} is not there.`, 'Check its name and folder.', file, { cause });
    case 'EACCES':
    case 'EPERM': {
      const message = `${file} may not be read: the system refuses it.`;
      return new PartsongError('file-unreadable', message, 'Allow reading it, or copy it elsewhere.', file, { cause });
    }
    default: {
      const message = `${file} cannot be opened (${systemCode(cause) ?? String(cause)}).`;
      return new PartsongError('file-unreadable', message, 'Copy it to this computer and try again.', file, { cause });
    }
  }
}

/** A clip that is another file than it was a moment ago. */
export function changedFault(file: string): PartsongError {
  return new PartsongError('file-unreadable', `${file} was changed while it was in use.`, 'Start again.', file);
}

/** A clip whose table of contents was never written or is lost: nothing in it can be found. */
export function withoutMovieFault(file: string, end?: RunEnd): PartsongError {
  return new PartsongError(
    'truncated',
    `${file} is cut off: its table of contents (the moov box, often at the end) is missing, so none of it can be read.`,
    'Copy it from the phone again; if the phone stopped while recording, the take is lost.',
    file,
    { cause: end?.lastLines.join('\n') },
  );
}

/** First bytes of the kinds of files that phones and recorders write. */
const SIGNATURES: readonly (readonly [RegExp, string])[] = [
  [/^caff/, 'CAF'],
  [/^fLaC/, 'FLAC'],
  [/^OggS/, 'Ogg'],
  [/^(RIFF|RF64|BW64)/, 'WAV'],
  [/^.E\xdf\xa3/s, 'Matroska'],
  [/^ID3/, 'MP3'],
  [/^#!AMR/, 'AMR'],
  [/^....(ftyp|moov|mdat|wide|moof)/s, 'MP4 or QuickTime'],
];

/** What kind of media file the first bytes announce; undefined for anything else. */
async function signatureOf(file: string): Promise<string | undefined> {
  const handle = await open(file, 'r');
  try {
    const head = Buffer.alloc(12);
    const { bytesRead } = await handle.read(head, 0, 12, 0);
    const text = head.toString('latin1', 0, bytesRead);
    return SIGNATURES.find(([pattern]) => pattern.test(text))?.[1];
  } finally {
    await handle.close();
  }
}

/** A clip that holds pictures or data, but no sound. */
export function noSoundFault(file: string, hasPicture: boolean): PartsongError {
  const message = hasPicture ? `${file} has a picture but no sound.` : `${file} holds no sound.`;
  return new PartsongError('no-sound', message, 'Leave it out, or choose the clip that has the sound.', file);
}

/** A clip whose sound no decoder of this FFmpeg can read. */
export function noDecoderFault(file: string, codec: string): PartsongError {
  return new PartsongError(
    'not-media',
    `${file} has sound, but in a form this FFmpeg cannot read (${codec}).`,
    'Use a newer FFmpeg (see: partsong doctor), or convert the clip.',
    file,
  );
}

/** What FFmpeg says when it was built without something, which is no fault of the clip. */
const LACKS_PARTS = /Unrecognized option|No such filter|Unknown (encoder|format)|Option .* not found/;

/** The fault of a clip FFmpeg gave nothing of, told from what it said. */
export async function unreadableFault(file: string, end: RunEnd, doing: string): Promise<PartsongError> {
  const said = end.lastLines.join('\n');
  if (end.exitCode === undefined || wasEnded(end) || LACKS_PARTS.test(said)) return ffmpegFault(end, doing, file);
  // The clip is not to blame where FFmpeg itself does not run.
  const dead = await deadFfmpegFault();
  if (dead !== undefined) return dead;
  const cause = { cause: said };
  if (/Permission denied/.test(said)) {
    return new PartsongError('file-unreadable', `${file} may not be read.`, 'Allow reading it.', file, cause);
  }
  const kind = await signatureOf(file);
  if (kind !== undefined) {
    return new PartsongError(
      'truncated',
      `${file} begins as a ${kind} file, but is cut off or damaged so that none of it can be read.`,
      'Copy it from the phone again.',
      file,
      cause,
    );
  }
  return new PartsongError(
    'not-media',
    `${file} is no sound or video file that can be read, whatever its name says.`,
    'Check that it is the right file; if it is, copy it from the phone again.',
    file,
    cause,
  );
}
