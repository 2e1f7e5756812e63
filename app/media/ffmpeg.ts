import { execFile } from 'node:child_process';
import { chmod, copyFile, mkdir, rename, stat } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { delimiter, dirname, join, resolve } from 'node:path';
import { PartsongError } from '../../core/signal/fault.ts';
import { isOld, lacksOf, namesIn } from './ffmpeg-needs.ts';
import { KnownFfmpegs, userCacheFolder } from './known-ffmpeg.ts';

/** Where an FFmpeg came from, in the order in which they are tried. */
export type FfmpegOrigin = 'PARTSONG_FFMPEG' | 'ffmpeg-static' | 'system' | '@ffmpeg-installer/ffmpeg';

/** An FFmpeg that runs on this machine. */
export interface Ffmpeg {
  readonly path: string;
  /** As FFmpeg itself says it, for example `5.1.9-0+deb12u1`. */
  readonly version: string;
  readonly origin: FfmpegOrigin;
}

/** An FFmpeg that was found on the way but does not run, and why. */
export interface PassedOver {
  readonly path: string;
  readonly origin: FfmpegOrigin;
  readonly reason: string;
}

/** What a search gives: the FFmpeg to use, and those passed over before it. */
export interface FfmpegSearch {
  readonly found: Ffmpeg | undefined;
  readonly passedOver: readonly PassedOver[];
}

const EXECUTABLE = process.platform === 'win32' ? 'ffmpeg.exe' : 'ffmpeg';
const VERSION_TIMEOUT_MS = 20_000;
const load = createRequire(import.meta.url);

let search: Promise<FfmpegSearch> | undefined;

/**
 * The FFmpeg of this process, searched once: the one that PARTSONG_FFMPEG names, else that of ffmpeg-static, else the
 * one on the system's PATH, else that of @ffmpeg-installer/ffmpeg. Throws PartsongError 'ffmpeg-missing' when none runs,
 * or when PARTSONG_FFMPEG names one that does not.
 */
export async function findFfmpeg(): Promise<Ffmpeg> {
  const { found, passedOver } = await searchFfmpegOnce();
  if (found !== undefined) return found;
  throw new PartsongError(
    'ffmpeg-missing',
    'No FFmpeg was found that runs on this computer; Partsong needs it to read and write media files.',
    'Install FFmpeg, or set PARTSONG_FFMPEG to its path, then run: partsong doctor',
    undefined,
    { cause: passedOver },
  );
}

/** The search's whole outcome, kept for the life of the process; a fault is not kept. An FFmpeg that answered before is not asked again. */
export function searchFfmpegOnce(): Promise<FfmpegSearch> {
  search ??= kept(searchFfmpeg(process.env, askUnlessKnown));
  return search;
}

function kept(found: Promise<FfmpegSearch>): Promise<FfmpegSearch> {
  return found.catch((error: unknown) => {
    search = undefined;
    throw error;
  });
}

/** Settles which FFmpeg this process uses from now on; undefined: search anew when next one is needed. */
export function useFfmpeg(ffmpeg: Ffmpeg | undefined): void {
  search = ffmpeg === undefined ? undefined : Promise.resolve({ found: ffmpeg, passedOver: [] });
}

/** Searches anew in the given environment (`PARTSONG_FFMPEG`, `PATH`). ask: how one that is met is asked for its version. */
export async function searchFfmpeg(
  environment: Readonly<Record<string, string | undefined>>,
  ask: (path: string) => Promise<Answer> = askVersion,
): Promise<FfmpegSearch> {
  const set = environment['PARTSONG_FFMPEG'];
  if (set !== undefined && set !== '') return { found: await theOneTheUserSet(set, ask), passedOver: [] };
  const passedOver: PassedOver[] = [];
  const places: readonly [FfmpegOrigin, () => Promise<string | undefined>][] = [
    ['ffmpeg-static', ffmpegStaticPath],
    ['system', () => onPath(environment['PATH'] ?? '')],
    ['@ffmpeg-installer/ffmpeg', installerPath],
  ];
  for (const [origin, locate] of places) {
    const path = await locate();
    if (path === undefined) continue;
    const outcome = await ask(path);
    if (outcome.version !== undefined) return { found: { path, version: outcome.version, origin }, passedOver };
    passedOver.push({ path, origin, reason: outcome.reason });
  }
  return { found: undefined, passedOver };
}

/** The FFmpeg in use, for the user: which, what it lacks, and what to do, in plain sentences. */
export interface FfmpegDescription extends Ffmpeg {
  /** What is missing and what is not possible without it. */
  readonly lacks: readonly string[];
  readonly advice: readonly string[];
}

/** Describes the FFmpeg in use, which is asked in any case. Throws as `findFfmpeg` does. */
export async function describeFfmpeg(): Promise<FfmpegDescription> {
  search ??= kept(searchFfmpeg(process.env, askAndKeep));
  const ffmpeg = await findFfmpeg();
  const { passedOver } = await searchFfmpegOnce();
  const [decoders, encoders, filters] = await Promise.all(
    ['-decoders', '-encoders', '-filters'].map(async (list) => namesIn(await listing(ffmpeg.path, list))),
  );
  const lacks = lacksOf({ decoders: decoders!, encoders: encoders!, filters: filters! });
  const advice = passedOver.map(({ path, origin, reason }) => `${path} (${origin}) was passed over: ${reason}.`);
  if (lacks.length > 0) advice.push('Install a full FFmpeg, or set PARTSONG_FFMPEG to the path of one.');
  else if (isOld(ffmpeg.version)) {
    advice.push('This FFmpeg is some years old. It serves; newer phones may need a newer one (PARTSONG_FFMPEG).');
  }
  return { ...ffmpeg, lacks, advice };
}

function listing(path: string, list: string): Promise<string> {
  const options = { timeout: VERSION_TIMEOUT_MS, encoding: 'utf8', maxBuffer: 2 ** 22 } as const;
  return new Promise((settle) => {
    execFile(path, ['-hide_banner', '-nostdin', list], options, (_error, stdout) => settle(stdout));
  });
}

async function theOneTheUserSet(path: string, ask: (path: string) => Promise<Answer>): Promise<Ffmpeg> {
  const outcome = await ask(path);
  if (outcome.version !== undefined) return { path, version: outcome.version, origin: 'PARTSONG_FFMPEG' };
  throw new PartsongError(
    'ffmpeg-missing',
    `PARTSONG_FFMPEG names ${path}, but that is no FFmpeg that runs here: ${outcome.reason}.`,
    'Set PARTSONG_FFMPEG to an FFmpeg that runs, or unset it so that Partsong looks for one itself.',
    path,
  );
}

type Answer = { readonly version: string } | { readonly version: undefined; readonly reason: string };

async function askUnlessKnown(path: string): Promise<Answer> {
  const version = await new KnownFfmpegs().versionOf(path);
  return version === undefined ? askAndKeep(path) : { version };
}

async function askAndKeep(path: string): Promise<Answer> {
  const answer = await askVersion(path);
  await new KnownFfmpegs().keep(path, answer.version);
  return answer;
}

/**
 * The fault of an FFmpeg that answered once and does not any more, as when a library that it needs was removed: it is forgotten, so that the
 * next search passes it over. undefined: it answers.
 */
export async function deadFfmpegFault(): Promise<PartsongError | undefined> {
  const { path } = await findFfmpeg();
  const answer = await askVersion(path);
  if (answer.version !== undefined) return undefined;
  await new KnownFfmpegs().keep(path, undefined);
  search = undefined;
  return new PartsongError(
    'ffmpeg-missing',
    `The FFmpeg ${path} answered before, but does not run any more: ${answer.reason}.`,
    'Install it again, then start Partsong again; it uses another FFmpeg where there is one. To see which: partsong doctor',
    path,
  );
}

function askVersion(path: string): Promise<Answer> {
  return new Promise((resolveAnswer) => {
    execFile(path, ['-version'], { timeout: VERSION_TIMEOUT_MS, encoding: 'utf8' }, (error, stdout) => {
      const version = /^ffmpeg version (\S+)/m.exec(stdout)?.[1];
      if (error !== null) resolveAnswer({ version: undefined, reason: reasonOf(error) });
      else if (version === undefined)
        resolveAnswer({ version: undefined, reason: 'it does not answer as FFmpeg does' });
      else resolveAnswer({ version });
    });
  });
}

function reasonOf(error: Error & { code?: unknown; killed?: boolean }): string {
  if (error.code === 'ENOENT') return 'there is no such file';
  if (error.code === 'EACCES') return 'it may not be executed';
  if (error.killed === true) return 'it did not answer in time';
  return typeof error.code === 'number' ? `it ended with exit code ${error.code}` : error.message;
}

/** ffmpeg-static gives a path even where its download never ran, so the file itself is looked for. */
async function ffmpegStaticPath(): Promise<string | undefined> {
  const path = tryLoad('ffmpeg-static');
  if (typeof path !== 'string' || !(await isFile(path))) return undefined;
  return madeExecutable(path);
}

async function onPath(pathList: string): Promise<string | undefined> {
  for (const folder of pathList.split(delimiter)) {
    if (folder === '') continue;
    const path = resolve(folder, EXECUTABLE);
    if (await isFile(path)) return path;
  }
  return undefined;
}

async function installerPath(): Promise<string | undefined> {
  const packageFile = tryResolve(`@ffmpeg-installer/${process.platform}-${process.arch}/package.json`);
  if (packageFile === undefined) return undefined;
  const path = join(dirname(packageFile), EXECUTABLE);
  return (await isFile(path)) ? madeExecutable(path) : undefined;
}

function tryLoad(name: string): unknown {
  try {
    return load(name);
  } catch {
    return undefined;
  }
}

function tryResolve(name: string): string | undefined {
  try {
    return load.resolve(name);
  } catch {
    return undefined;
  }
}

async function isFile(path: string): Promise<boolean> {
  const facts = await stat(path).catch(() => undefined);
  return facts?.isFile() === true;
}

/**
 * A package's binary lacks the permission to run where npm was told not to run install scripts. It is granted here, or,
 * where the package may not be changed, to a copy in the user's cache folder.
 */
export async function madeExecutable(path: string): Promise<string> {
  if (process.platform === 'win32') return path;
  const facts = await stat(path);
  if ((facts.mode & 0o111) !== 0) return path;
  try {
    await chmod(path, 0o755);
    return path;
  } catch {
    return copyToCache(path, facts.size).catch(() => path);
  }
}

async function copyToCache(path: string, sizeBytes: number): Promise<string> {
  const folder = userCacheFolder();
  await mkdir(folder, { recursive: true });
  const copy = join(folder, `ffmpeg-${sizeBytes}`);
  if (await isFile(copy)) return copy;
  const partial = `${copy}.${process.pid}`;
  await copyFile(path, partial);
  await chmod(partial, 0o755);
  await rename(partial, copy);
  return copy;
}
