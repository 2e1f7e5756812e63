import { spawn } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';

/** Where the runtime of the window is looked for, and how it is fetched. */
export interface RuntimePlaces {
  /** The package `electron`, such as node_modules/electron. */
  readonly packageFolder: string;
  /** A file whose age tells when fetching last failed. */
  readonly failedFile: string;
  readonly env: NodeJS.ProcessEnv;
  readonly platform: string;
}

/** The program that shows the window, or why there is none, as a sentence without its end. */
export type Runtime = { readonly program: string } | { readonly why: string };

/** After a fetch that failed the next start does not wait for another within this time, ms. */
const TRY_AGAIN_MS = 24 * 3600 * 1000;

/** Finds the window's runtime, without fetching it. */
export function findRuntime({ packageFolder, env, platform }: RuntimePlaces): Runtime {
  if (platform === 'linux' && !env['DISPLAY'] && !env['WAYLAND_DISPLAY']) {
    return { why: 'There is no screen here to show a window on' };
  }
  const elsewhere = env['ELECTRON_OVERRIDE_DIST_PATH'];
  const named = readIfThere(join(packageFolder, 'path.txt'));
  const program = elsewhere
    ? join(elsewhere, named ?? 'electron')
    : named === undefined
      ? undefined
      : join(packageFolder, 'dist', named);
  return program !== undefined && existsSync(program) ? { program } : { why: NOT_THERE };
}

const NOT_THERE = "The window's runtime is not installed";

/** Finds the runtime, and fetches it when it is not there; `say` is told before that begins. */
export async function getRuntime(places: RuntimePlaces, say: (sentence: string) => void): Promise<Runtime> {
  const found = findRuntime(places);
  const installer = join(places.packageFolder, 'install.js');
  if ('program' in found || found.why !== NOT_THERE || !existsSync(installer)) return found;
  if (failedLately(places.failedFile)) return { why: `${NOT_THERE}, and could not be fetched lately` };
  say("Fetching the window's runtime, some 100 MB, once.");
  if (!(await runQuietly(installer))) {
    mkdirSync(dirname(places.failedFile), { recursive: true });
    writeFileSync(places.failedFile, '');
    return { why: "The window's runtime could not be fetched" };
  }
  return findRuntime(places);
}

function failedLately(file: string): boolean {
  const facts = statSync(file, { throwIfNoEntry: false });
  return facts !== undefined && Date.now() - facts.mtimeMs < TRY_AGAIN_MS;
}

function runQuietly(script: string): Promise<boolean> {
  return new Promise((resolve) => {
    const child = spawn(process.execPath, [script], { stdio: ['ignore', 'ignore', 'ignore'] });
    child.on('error', () => resolve(false));
    child.on('exit', (code) => resolve(code === 0));
  });
}

function readIfThere(file: string): string | undefined {
  try {
    return readFileSync(file, 'utf8').trim();
  } catch {
    return undefined;
  }
}
