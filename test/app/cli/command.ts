import { spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { build, isStale } from '../../../app/cli/build.mjs';

const start = fileURLToPath(new URL('../../../app/cli/start.mjs', import.meta.url));

export interface CommandEnd {
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

/** Builds the command line when a source is newer. Call once before the tests of a file. */
export async function builtCommand(): Promise<void> {
  if (isStale()) await build();
}

export interface CommandOptions {
  readonly env?: Record<string, string>;
  readonly cwd?: string;
  /** Sent when the text has been seen on standard error. */
  readonly interruptAt?: string;
}

/** Runs `partsong ...` as a process of its own, as a user would. */
export function partsong(args: readonly string[], options: CommandOptions = {}): Promise<CommandEnd> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [start, ...args], {
      cwd: options.cwd,
      env: { ...process.env, ...options.env },
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    let stdout = '';
    let stderr = '';
    let interrupted = false;
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      stdout += text;
    });
    child.stderr.setEncoding('utf8').on('data', (text: string) => {
      stderr += text;
      if (options.interruptAt !== undefined && !interrupted && stderr.includes(options.interruptAt)) {
        interrupted = true;
        child.kill('SIGINT');
      }
    });
    child.on('error', reject);
    child.on('close', (code) => resolve({ code, stdout, stderr }));
  });
}
