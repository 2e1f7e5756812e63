import { CancelledError, PartsongError } from '../../core/signal/fault.ts';
import { EXIT, exitCodeOf } from './exit-code.ts';
import { Progress } from './progress.ts';

/** What every verb is run with. */
export interface VerbContext {
  /** Raised by Ctrl-C. */
  readonly signal: AbortSignal;
  readonly progress: Progress;
  /** The result is wanted as JSON on standard output. */
  readonly json: boolean;
  /** Prints a line for people; nothing when JSON is wanted. */
  say(line: string): void;
}

/**
 * Runs one verb: Ctrl-C raises the signal and everything half-made is removed by who made it; a fault is told in its
 * own sentence with what to do next, and sets its exit code. A second Ctrl-C ends at once.
 */
export async function runVerb(
  options: { json?: boolean },
  verb: (context: VerbContext) => Promise<unknown>,
): Promise<void> {
  const json = options.json ?? false;
  const stop = new AbortController();
  const onInterrupt = (): void => {
    if (stop.signal.aborted) process.exit(EXIT.cancelled);
    process.stderr.write('\nStopping; nothing half-made is kept. Press Ctrl-C again to end at once.\n');
    stop.abort();
  };
  process.on('SIGINT', onInterrupt);
  process.on('SIGTERM', onInterrupt);
  process.on('SIGHUP', onInterrupt);
  const progress = new Progress();
  try {
    const result = await verb({
      signal: stop.signal,
      progress,
      json,
      say: (line) => {
        if (!json) process.stdout.write(`${line}\n`);
      },
    });
    progress.end();
    if (json) process.stdout.write(`${JSON.stringify(result, undefined, 2)}\n`);
  } catch (error) {
    progress.end();
    tell(error, json);
  } finally {
    process.off('SIGINT', onInterrupt);
    process.off('SIGTERM', onInterrupt);
    process.off('SIGHUP', onInterrupt);
  }
}

function tell(error: unknown, json: boolean): void {
  if (error instanceof PartsongError) {
    process.exitCode = exitCodeOf(error.code);
    if (json) {
      const { code, message, nextStep, file } = error;
      printFault({ code, message, nextStep, file });
    }
    process.stderr.write(`${error.message}\n${error.nextStep}\n`);
  } else if (error instanceof CancelledError) {
    process.exitCode = EXIT.cancelled;
    process.stderr.write(`${error.message}\n`);
    if (json) process.stdout.write(`${JSON.stringify({ cancelled: true }, undefined, 2)}\n`);
  } else {
    process.exitCode = EXIT.unforeseen;
    if (json) {
      const message = error instanceof Error ? error.message : String(error);
      printFault({ code: 'unforeseen', message, nextStep: 'Report this as a defect of Partsong.' });
    }
    process.stderr.write(`Partsong met a defect of its own; your clips are untouched.\n`);
    process.stderr.write(`${error instanceof Error ? (error.stack ?? error.message) : String(error)}\n`);
  }
}

/** Prints a fault as --json promises it. */
export function printFault(fault: {
  code: string;
  message: string;
  nextStep: string;
  file?: string | undefined;
}): void {
  process.stdout.write(`${JSON.stringify({ fault }, undefined, 2)}\n`);
}
