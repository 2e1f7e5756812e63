import { type ChildProcess, spawn } from 'node:child_process';
import { basename, dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { rolldown } from 'rolldown';

const here = dirname(fileURLToPath(import.meta.url));

/** Bundles a script, named from this folder, into a file that Node runs by itself; gives its path. */
export async function bundled(script: string, into: string): Promise<string> {
  const file = join(into, basename(script).replace(/\.ts$/, '.mjs'));
  const bundle = await rolldown({
    input: join(here, script),
    platform: 'node',
    external: [/^node:/],
    logLevel: 'silent',
  });
  await bundle.write({ file, format: 'esm', codeSplitting: false });
  await bundle.close();
  return file;
}

/** A script as a process of its own; lines of its output with the time at which they came, ms. */
export function startScript(
  file: string,
  args: readonly string[],
): { child: ChildProcess; lines: { text: string; atMs: number }[]; ended: Promise<number | null> } {
  const child = spawn(process.execPath, [file, ...args], { stdio: ['ignore', 'pipe', 'inherit'] });
  const lines: { text: string; atMs: number }[] = [];
  let rest = '';
  child.stdout.setEncoding('utf8').on('data', (text: string) => {
    const parts = (rest + text).split('\n');
    rest = parts.pop()!;
    for (const part of parts) lines.push({ text: part, atMs: performance.now() });
  });
  const ended = new Promise<number | null>((resolve) => child.on('close', (code) => resolve(code)));
  return { child, lines, ended };
}
