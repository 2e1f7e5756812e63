import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, delimiter, dirname, join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';

const PROGRAMS = ['ffmpeg', 'ffprobe'] as const;
/** How long a program may take to be linked, on a busy machine, ms. */
const PATIENCE_MS = 10_000;

/**
 * Before all tests: Debian's FFmpeg, linked once and kept; tests and what they start find one on the PATH that asks it for a fork of itself
 * (`keeper.c`, `asker.c`). Most of some thousand starts a run spent more on linking than on their work. Where it cannot be kept, or
 * PARTSONG_FFMPEG_NOT_KEPT is set, all of them start it as ever.
 */
export default async function readyFfmpeg(): Promise<() => Promise<void>> {
  const folder = mkdtempSync(join(tmpdir(), 'ready-'));
  const keepers: Keeper[] = [];
  const isWanted = process.platform === 'linux' && process.env['PARTSONG_FFMPEG_NOT_KEPT'] === undefined;
  if (isWanted && isCompiled(folder, 'keeper.c', 'keeper.so', '-shared', '-fPIC')) {
    for (const name of PROGRAMS) {
      const keeper = await keep(`/usr/bin/${name}`, join(folder, name));
      if (keeper !== undefined) keepers.push(keeper);
    }
    process.env['PATH'] = `${folder}${delimiter}${process.env['PATH']}`;
    if (existsSync(join(folder, 'ffmpeg'))) process.env['PARTSONG_KEPT_FFMPEG'] = join(folder, 'ffmpeg');
  }
  return async () => {
    await Promise.all(keepers.map((keeper) => keeper.end()));
    rmSync(folder, { recursive: true, force: true });
  };
}

interface Keeper {
  end(): Promise<void>;
}

/** Starts a program that waits to be asked for, by an asker of its name. undefined, and no asker: it cannot be kept. */
async function keep(program: string, asker: string): Promise<Keeper | undefined> {
  const folder = dirname(asker);
  if (!existsSync(program) || !isCompiled(folder, 'asker.c', basename(asker), `-DPROGRAM="${program}"`))
    return undefined;
  const socket = `${asker}.sock`;
  // Threads of a library would not be there after a fork.
  const more = { READY_SOCKET: socket, LD_PRELOAD: join(folder, 'keeper.so'), OPENBLAS_NUM_THREADS: '1' };
  const child = spawn(program, [], { env: { ...process.env, ...more }, stdio: ['pipe', 'ignore', 'ignore'] });
  let isEnded = false;
  const ended = new Promise<void>((settle) => {
    child.once('error', () => settle());
    child.once('exit', () => settle());
  }).then(() => {
    isEnded = true;
  });
  const end = (): Promise<void> => {
    child.stdin.end();
    return ended;
  };
  child.stdin.on('error', () => undefined);
  const until = performance.now() + PATIENCE_MS;
  while (!existsSync(socket) && !isEnded && performance.now() < until) await pause(20);
  if (existsSync(socket) && spawnSync(asker, ['-version']).status === 0) return { end };
  rmSync(asker);
  await end();
  return undefined;
}

function isCompiled(folder: string, source: string, target: string, ...options: string[]): boolean {
  const args = ['-O1', ...options, '-o', join(folder, target), join(import.meta.dirname, source), '-ldl'];
  return spawnSync('cc', args, { stdio: 'ignore' }).status === 0;
}
