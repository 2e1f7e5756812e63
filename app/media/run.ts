import { type ChildProcessByStdio, spawn } from 'node:child_process';
import { Readable, type Writable } from 'node:stream';
import { CancelledError, PartsongError } from '../../core/signal/fault.ts';
import type { Ffmpeg } from './ffmpeg.ts';
import { endWithUs, watchOverUs } from './orphan-guard.ts';

/** How an FFmpeg process ended. */
export interface RunEnd {
  /** Exit code, absent when a signal ended it. */
  readonly exitCode: number | undefined;
  readonly signal: string | undefined;
  /** The last lines it wrote, without progress and frame lists. */
  readonly lastLines: readonly string[];
}

/** A running FFmpeg, its pipes, and its end. */
export interface RunningFfmpeg {
  readonly stdin: Writable;
  /** Its output; at its end from the start where that goes into a file. */
  readonly stdout: Readable;
  /** What it writes to its pipe:3, where that was asked for; to be read to its end. */
  readonly aside: Readable | undefined;
  /** Settles when the process is gone and its pipes are closed; never rejects. */
  readonly end: Promise<RunEnd>;
  /** Ends the process, by force if need be, and waits until it is gone. */
  stop(): Promise<void>;
}

/** After this long a process that was asked to stop is killed. */
const PATIENCE_MS = 1500;
const LINES_KEPT = 40;

export interface RunOptions {
  readonly signal?: AbortSignal | undefined;
  /** An open file that its output goes into; absent: a pipe, which waits for the reader. */
  readonly into?: number | undefined;
  /** Whether it has a second output, pipe:3. */
  readonly aside?: boolean;
  /** Called with each line FFmpeg says; gives true when the line is dealt with and need not be kept. */
  readonly onLine?: ((line: string) => boolean) | undefined;
  /** Called when FFmpeg will say nothing more; its output may still wait to be read. */
  readonly onLastLine?: (() => void) | undefined;
}

/**
 * Starts FFmpeg with plain arguments, never through a shell. Its messages are always read, so it cannot stall on them;
 * its output waits for the reader. When `signal` is raised the process is stopped.
 */
export function startFfmpeg(ffmpeg: Ffmpeg, args: readonly string[], options: RunOptions = {}): RunningFfmpeg {
  if (options.signal?.aborted) throw new CancelledError();
  watchOverUs();
  const child = spawn(ffmpeg.path, ['-hide_banner', ...args], {
    stdio: ['pipe', options.into ?? 'pipe', 'pipe', ...(options.aside === true ? (['pipe'] as const) : [])],
    windowsHide: true,
  }) as ChildProcessByStdio<Writable, Readable | null, Readable>;
  endWithUs(child);
  const stdout = child.stdout ?? Readable.from([]);
  const aside = (child.stdio[3] ?? undefined) as Readable | undefined;
  const lines = new LineKeeper(options.onLine);
  child.stderr.setEncoding('utf8');
  child.stderr.on('data', (text: string) => lines.add(text));
  // 'close' comes when either 'end' or destruction came, and also when the process never started.
  child.stderr.on('close', () => {
    lines.finish();
    options.onLastLine?.();
  });
  // A process that ends early breaks its input pipe; its exit code tells why.
  child.stdin.on('error', () => undefined);

  const end = new Promise<RunEnd>((settle) => {
    let startError: Error | undefined;
    child.on('error', (error) => {
      startError = error;
      if (child.pid === undefined) settle({ exitCode: undefined, signal: undefined, lastLines: [error.message] });
    });
    child.on('close', (code, signal) => {
      lines.finish();
      const lastLines = startError === undefined ? lines.kept : [...lines.kept, startError.message];
      settle({ exitCode: code ?? undefined, signal: signal ?? undefined, lastLines });
    });
  });

  let stopping: Promise<void> | undefined;
  const stop = (): Promise<void> => {
    aside?.destroy();
    stopping ??= stopChild(child, stdout, end);
    return stopping;
  };
  const onAbort = (): void => {
    void stop();
  };
  options.signal?.addEventListener('abort', onAbort, { once: true });
  void end.then(() => options.signal?.removeEventListener('abort', onAbort));
  return { stdin: child.stdin, stdout, aside, end, stop };
}

async function stopChild(
  child: ChildProcessByStdio<Writable, Readable | null, Readable>,
  stdout: Readable,
  end: Promise<RunEnd>,
): Promise<void> {
  // FFmpeg goes on waiting in a full pipe after SIGTERM; closing our side wakes it.
  child.stdin.destroy();
  stdout.destroy();
  if (child.exitCode === null && child.signalCode === null) child.kill('SIGTERM');
  const force = setTimeout(() => child.kill('SIGKILL'), PATIENCE_MS);
  await end;
  clearTimeout(force);
}

/** Runs FFmpeg to its end and gives what it wrote to its output (small texts only) beside its last lines. */
export async function runFfmpeg(
  ffmpeg: Ffmpeg,
  args: readonly string[],
  options: RunOptions = {},
): Promise<RunEnd & { readonly output: string }> {
  const run = startFfmpeg(ffmpeg, args, options);
  run.stdin.end();
  run.stdout.setEncoding('utf8');
  let output = '';
  run.stdout.on('data', (text: string) => {
    output += text;
  });
  const end = await run.end;
  if (options.signal?.aborted) throw new CancelledError();
  return { ...end, output };
}

/**
 * A name as FFmpeg must be given it: with `file:` in front, so that no name is taken for an option, a protocol or a
 * pipe.
 */
export function fileArgument(path: string): string {
  return `file:${path}`;
}

/** Exit codes of a shell whose program was ended by SIGINT, SIGKILL or SIGTERM, and of FFmpeg after a signal it caught. */
const CODES_WHEN_ENDED: ReadonlySet<number | undefined> = new Set([130, 137, 143, 255]);

/** The process did not come to its own end: someone or the system ended it. */
export function wasEnded(end: RunEnd): boolean {
  return (
    end.signal !== undefined ||
    CODES_WHEN_ENDED.has(end.exitCode) ||
    end.lastLines.some((line) => /Exiting normally, received signal/.test(line))
  );
}

/** Signals that a process brings upon itself. */
const CRASHES: ReadonlySet<string> = new Set(['SIGSEGV', 'SIGBUS', 'SIGILL', 'SIGFPE', 'SIGABRT']);

/** The fault of an FFmpeg that was ended from outside or broke; `doing` completes "FFmpeg ... while". */
export function ffmpegFault(end: RunEnd, doing: string, file: string): PartsongError {
  const ended = CRASHES.has(end.signal ?? '') ? 'crashed' : 'was ended from outside';
  const how = end.signal === undefined ? `stopped with exit code ${end.exitCode ?? 'unknown'}` : ended;
  const detail = end.signal === undefined ? lastSaid(end) : ` (${end.signal})`;
  return new PartsongError(
    'ffmpeg-failed',
    `FFmpeg ${how} while ${doing} ${file}${detail}.`,
    'Try again; if it happens again, run: partsong doctor',
    file,
    { cause: end.lastLines.join('\n') },
  );
}

function lastSaid(end: RunEnd): string {
  const line = end.lastLines.at(-1);
  return line === undefined ? '' : `; it said: ${line.replace(/[.\s]+$/, '')}`;
}

/** Cuts text into lines at line feeds and carriage returns, and keeps the last of them. */
class LineKeeper {
  readonly kept: string[] = [];
  readonly #onLine: ((line: string) => boolean) | undefined;
  #rest = '';

  constructor(onLine: ((line: string) => boolean) | undefined) {
    this.#onLine = onLine;
  }

  add(text: string): void {
    const lines = (this.#rest + text).split(/[\r\n]+/);
    this.#rest = lines.pop() ?? '';
    for (const line of lines) this.#take(line);
  }

  finish(): void {
    this.#take(this.#rest);
    this.#rest = '';
  }

  #take(line: string): void {
    if (line.trim() === '' || this.#onLine?.(line) === true) return;
    this.kept.push(line);
    if (this.kept.length > LINES_KEPT) this.kept.shift();
  }
}
