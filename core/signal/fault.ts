/** Every code a user can meet. Stable: reports, tests and exit codes name them. */
export type FaultCode =
  | 'file-missing'
  | 'file-empty'
  | 'file-unreadable'
  | 'not-media'
  | 'no-sound'
  | 'no-picture'
  | 'digital-silence'
  | 'too-short'
  | 'truncated'
  | 'no-silence'
  | 'target-unwritable'
  | 'target-full'
  | 'target-exists'
  | 'ffmpeg-missing'
  | 'ffmpeg-failed'
  | 'session-damaged'
  | 'session-newer'
  | 'session-open'
  | 'score-unreadable'
  | 'clip-known'
  | 'bad-option';

/**
 * A fault of the world, told to the user: what happened to which file, and what to do next.
 * A programmer's fault is a RangeError or TypeError instead; an outcome of the music is a value.
 */
export class PartsongError extends Error {
  override readonly name = 'PartsongError';
  readonly code: FaultCode;
  /** The file the fault is about, as the user named it; absent when there is none. */
  readonly file: string | undefined;
  /** What the user can do next, one sentence. */
  readonly nextStep: string;

  constructor(code: FaultCode, message: string, nextStep: string, file?: string, options?: { cause?: unknown }) {
    super(message, options);
    this.code = code;
    this.nextStep = nextStep;
    this.file = file;
  }
}

/** Work was stopped because the user asked for it. Never shown as a fault. */
export class CancelledError extends Error {
  override readonly name = 'CancelledError';
  constructor() {
    super('Stopped at your request.');
  }
}

/** A stop flag that an AbortSignal of Node or of a page satisfies. */
export interface Cancel {
  readonly aborted: boolean;
}

/** Throws CancelledError when the flag is up. */
export function throwIfCancelled(cancel: Cancel | undefined): void {
  if (cancel?.aborted) throw new CancelledError();
}

/** Marks the end of an exhaustive switch. */
export function assertNever(value: never): never {
  throw new TypeError(`not foreseen: ${JSON.stringify(value)}`);
}

/** Throws RangeError naming the value unless minimum <= value <= maximum (NaN never passes). */
export function assertInRange(name: string, value: number, minimum: number, maximum: number): void {
  if (!(value >= minimum && value <= maximum)) {
    throw new RangeError(`${name} is ${value}; allowed ${minimum} to ${maximum}`);
  }
}
