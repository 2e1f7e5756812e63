import { createHash, randomBytes } from 'node:crypto';
import { mkdir, readdir, readFile, rename, rm, rmdir, stat } from 'node:fs/promises';
import { hostname } from 'node:os';
import { basename, dirname, join, relative, resolve, sep } from 'node:path';
import { PartsongError } from '../../core/signal/fault.ts';
import { targetFault } from '../media/whole-file.ts';
import { isRunning } from './process-life.ts';

/** This computer, in a folder that several may share. */
const HOST = createHash('sha256').update(hostname()).digest('hex').slice(0, 8);
/** A work folder that another computer left untouched for longer is taken for dead, ms. */
const FOREIGN_WORK_LIVES_MS = 24 * 3600 * 1000;
/** Files whose beginning tells that Partsong has rendered into a folder before. */
const SIGNED = ['report.json', 'session.json', 'session.json.1'];
/** Whatever else there may be of a render, in a folder that Partsong has not made. */
const TOP_FILES = ['session.json', 'report.json', 'report.html'];

/**
 * A folder that is filled whole or not at all. Everything is first written into a hidden folder inside the target and
 * moved when all is there; when the work fails or is stopped, the hidden folder goes, and the target too if it
 * was made for this. Files of the target that the render does not make are never touched; one of the same name that
 * Partsong has not made stops it before any work. What a killed run left behind is removed by the next.
 */
export class RenderFolder {
  readonly target: string;
  readonly #made: string | undefined;
  readonly #work: string;
  /** Files of the render that stood here before. */
  #older: readonly string[] = [];

  private constructor(target: string, made: string | undefined) {
    this.target = target;
    this.#made = made;
    this.#work = join(target, `.partsong-${HOST}-${process.pid}-${randomBytes(4).toString('hex')}`);
  }

  /**
   * Makes the target where it is missing. `files`: what the render will make, as paths inside it.
   * Throws PartsongError 'target-unwritable' | 'target-full' | 'target-exists'.
   */
  static async open(folder: string, files: readonly string[]): Promise<RenderFolder> {
    const target = resolve(folder);
    const facts = await stat(target).catch(() => undefined);
    if (facts !== undefined && !facts.isDirectory()) {
      throw new PartsongError(
        'target-unwritable',
        `${folder} is a file, so no folder of that name can be made.`,
        'Choose another name for the folder.',
        folder,
      );
    }
    try {
      const made = await mkdir(target, { recursive: true });
      const render = new RenderFolder(target, made);
      await mkdir(render.#work);
      try {
        await render.#refuseBusy();
        await render.#refuseForeign([...files, ...TOP_FILES]);
      } catch (error) {
        await render.abandon();
        throw error;
      }
      return render;
    } catch (error) {
      throw targetFault(error, target);
    }
  }

  /** Refuses files of these names that Partsong has not made, where they are known later than `open`. Throws PartsongError. */
  refuse(files: readonly string[]): Promise<void> {
    return this.#refuseForeign([...files]);
  }

  /** Where a file of the render is written while the work goes on. */
  path(...parts: string[]): string {
    return join(this.#work, ...parts);
  }

  /** Moves everything to its own name, one file at a time; those of an earlier render that were not made anew go. */
  async keep(): Promise<void> {
    const made = await filesUnder(this.#work);
    for (const name of made) {
      const to = join(this.target, name);
      await mkdir(dirname(to), { recursive: true });
      await rename(join(this.#work, name), to);
    }
    for (const name of this.#older) {
      if (!made.includes(name)) await rm(join(this.target, name), { force: true });
    }
    await rm(this.#work, { recursive: true, force: true });
  }

  /** Removes what was made. Only folders that are empty are removed with it. */
  async abandon(): Promise<void> {
    await rm(this.#work, { recursive: true, force: true });
    if (this.#made === undefined) return;
    await rm(join(this.target, 'caches'), { recursive: true, force: true });
    let folder = this.target;
    const top = resolve(this.#made);
    for (;;) {
      try {
        await rmdir(folder);
      } catch {
        return;
      }
      if (folder === top) return;
      folder = resolve(folder, '..');
    }
  }

  /** Two runs at once would mingle their results. Work folders of runs that are dead are removed. */
  async #refuseBusy(): Promise<void> {
    for (const name of await readdir(this.target)) {
      const found = /^\.partsong-([0-9a-f]{8})-(\d+)-[0-9a-f]{8}$/.exec(name);
      const path = join(this.target, name);
      if (found === null || path === this.#work) continue;
      if (found[1] === HOST ? isRunning(Number(found[2])) : await isFresh(path)) {
        throw new PartsongError(
          'target-unwritable',
          `Another Partsong is at work in ${this.target}.`,
          `Wait until it has finished, or choose another folder. If none is running, remove ${path}.`,
          this.target,
        );
      }
      await rm(path, { recursive: true, force: true });
    }
  }

  async #refuseForeign(files: readonly string[]): Promise<void> {
    const report = await this.#signedReport();
    this.#older = report?.files ?? [];
    for (const name of files) {
      const path = join(this.target, name);
      const facts = await stat(path).catch(() => undefined);
      if (facts === undefined || (facts.isFile() && report !== undefined)) continue;
      throw new PartsongError(
        'target-exists',
        `${path} is there already and was not made by Partsong.`,
        'Choose another folder, or move it away.',
        path,
      );
    }
    const stems = await stat(join(this.target, 'stems')).catch(() => undefined);
    if (stems !== undefined && !stems.isDirectory()) {
      const path = join(this.target, 'stems');
      throw new PartsongError('target-exists', `${path} is there already and is no folder.`, 'Move it away.', path);
    }
  }

  /** What an earlier render made here; undefined when there was none. */
  async #signedReport(): Promise<{ files: string[] } | undefined> {
    let signed = false;
    for (const name of SIGNED) {
      const text = await readFile(join(this.target, name), 'utf8').catch(() => '');
      if (!text.includes('"partsong-')) continue;
      signed = true;
      if (name === 'report.json') return { files: filesOf(text) };
    }
    return signed ? { files: [] } : undefined;
  }
}

/** Stems and copies that a report names; nothing that points elsewhere. */
function filesOf(reportText: string): string[] {
  const names: unknown[] = [];
  try {
    const report = JSON.parse(reportText) as { takes?: { stem?: unknown }[]; mix?: { copies?: { file?: unknown }[] } };
    for (const take of report.takes ?? []) names.push(take.stem);
    for (const copy of report.mix?.copies ?? []) names.push(copy.file);
  } catch {
    return [];
  }
  return names
    .filter((name) => typeof name === 'string')
    .filter((name) => name === `stems/${basename(name)}` || /^mix-upload\.\w+$/.test(name))
    .map((name) => join(...name.split('/')));
}

async function filesUnder(folder: string): Promise<string[]> {
  const entries = await readdir(folder, { withFileTypes: true, recursive: true });
  return entries
    .filter((entry) => entry.isFile())
    .map((entry) => relative(folder, `${entry.parentPath}${sep}${entry.name}`));
}

async function isFresh(path: string): Promise<boolean> {
  const facts = await stat(path).catch(() => undefined);
  return facts !== undefined && Date.now() - facts.mtimeMs < FOREIGN_WORK_LIVES_MS;
}
