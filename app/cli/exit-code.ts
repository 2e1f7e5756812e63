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
  'target-unwritable': 20,
  'target-full': 21,
  'target-exists': 22,
  'ffmpeg-missing': 30,
  'ffmpeg-failed': 31,
  'session-damaged': 40,
  'session-newer': 41,
};

/** The exit code of a fault. */
export function exitCodeOf(code: FaultCode): number {
  return byFault[code];
}

/** The table for `--help` and the README. */
export function exitCodeTable(): readonly { code: number; what: string }[] {
  return [
    { code: EXIT.done, what: 'done' },
    { code: EXIT.unforeseen, what: 'a defect of Partsong' },
    ...Object.entries(byFault).map(([what, code]) => ({ code, what })),
    { code: EXIT.cancelled, what: 'stopped with Ctrl-C' },
  ];
}
