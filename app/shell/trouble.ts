import { appendFileSync, mkdirSync, renameSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { inspect } from 'node:util';
import type { FaultView } from './contract/desk-view.ts';

const FILE_NAME = 'trouble.log';
/** From this size on the file is put aside as trouble.log.1, bytes. */
const MOST_BYTES = 256 * 1024;

let file: string | undefined;

/** From now on what is noted goes into `trouble.log` of this folder too; its path. */
export function keepTroubleIn(configFolder: string): string {
  file = join(configFolder, FILE_NAME);
  return file;
}

/** Writes an error that nobody expected to the error output and, where one is kept, to the file. Never throws. */
export function noteTrouble(where: string, error: unknown): void {
  const text = `${new Date().toISOString()} ${where}: ${inspect(error, { depth: 4 })}\n`;
  try {
    process.stderr.write(text);
  } catch {
    // Whoever started the desk may have gone, and its error output with it.
  }
  if (file === undefined) return;
  try {
    mkdirSync(join(file, '..'), { recursive: true });
    if ((statSync(file, { throwIfNoEntry: false })?.size ?? 0) > MOST_BYTES) renameSync(file, `${file}.1`);
    appendFileSync(file, text);
  } catch {
    // A disk that takes nothing must not make a trouble of its own.
  }
}

/** A process, as far as trouble with it goes; a test gives a stand-in. */
export type TroubledProcess = Pick<NodeJS.Process, 'on'> & {
  readonly stdout: Pick<NodeJS.WriteStream, 'on'>;
  readonly stderr: Pick<NodeJS.WriteStream, 'on'>;
};

export interface TroubleEnds {
  /** Tells whoever looks at the desk. */
  readonly tell: (fault: FaultView) => void;
  /** Saves and ends: after an uncaught error nothing more may be trusted. */
  readonly end: () => void;
}

/**
 * Lets no error end the desk in silence. A promise that failed unseen costs that piece of work alone, and is told; an
 * uncaught error is noted and ends the desk in order. A closed terminal is no error.
 */
export function watchForTrouble(program: TroubledProcess, { tell, end }: TroubleEnds): void {
  for (const stream of [program.stdout, program.stderr]) stream.on('error', () => {});
  program.on('unhandledRejection', (reason) => {
    noteTrouble('a piece of work failed unseen', reason);
    tell(unseen());
  });
  program.on('uncaughtException', (error) => {
    noteTrouble('uncaught', error);
    end();
  });
}

function unseen(): FaultView {
  return {
    code: 'unexpected',
    message: 'Something went wrong that Partsong did not expect.',
    nextStep: 'Your session is saved. If something stands still, close the session and open it anew.',
    file: file ?? null,
  };
}
