import type { FaultCode } from '../../core/signal/fault.ts';

/** Exit codes of the `partsong` command, one a fault, so that a script can tell them apart. */
export const EXIT = { done: 0, unforeseen: 1, cancelled: 130 } as const;

const byFault: Record<FaultCode, number> = {
  'bad-option': 2,
  'file-missing': 10,
  'file-empty': 11,
  'file-unreadable': 12,
  'not-media': 13,
  'no-sound': 14,
  'digital-silence': 15,
  'too-short': 16,
  truncated: 17,
  'no-silence': 18,
  'no-picture': 19,
  'target-unwritable': 20,
  'target-full': 21,
  'target-exists': 22,
  'ffmpeg-missing': 30,
  'ffmpeg-failed': 31,
  'session-damaged': 40,
  'session-newer': 41,
  'session-open': 42,
  'score-unreadable': 45,
  'clip-known': 46,
};

/** The exit code of a fault. */
export function exitCodeOf(code: FaultCode): number {
  return byFault[code];
}

const inWords: Record<FaultCode, string> = {
  'bad-option': 'an option or argument that makes no sense',
  'file-missing': 'a clip is not there',
  'file-empty': 'a clip is empty',
  'file-unreadable': 'a clip may not or cannot be read',
  'not-media': 'a clip is no sound or video file',
  'no-sound': 'a clip has no sound',
  'digital-silence': 'a clip holds nothing but zeros',
  'too-short': 'a clip is too short',
  truncated: 'a clip is cut off',
  'no-silence': 'no silence to learn the noise from',
  'no-picture': 'no clip has a picture',
  'target-unwritable': 'the result cannot be written there',
  'target-full': 'the disk is full',
  'target-exists': 'something that Partsong did not make is in the way',
  'ffmpeg-missing': 'no FFmpeg was found',
  'ffmpeg-failed': 'FFmpeg stopped or was ended',
  'session-damaged': 'the session is damaged',
  'session-newer': 'the session is of a newer Partsong',
  'session-open': 'the session is open elsewhere',
  'score-unreadable': 'the score cannot be read',
  'clip-known': 'a clip is in the session already',
};

/** The table for `--help` and the README. */
export function exitCodeTable(): readonly { code: number; what: string }[] {
  return [
    { code: EXIT.done, what: 'done' },
    { code: EXIT.unforeseen, what: 'a defect of Partsong' },
    ...Object.entries(byFault).map(([name, code]) => ({ code, what: `${inWords[name as FaultCode]} (${name})` })),
    { code: EXIT.cancelled, what: 'stopped with Ctrl-C' },
  ];
}
