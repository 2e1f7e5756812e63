import { randomBytes } from 'node:crypto';
import { existsSync } from 'node:fs';
import { mkdir, readdir, rename, rm, rmdir } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { targetFault } from '../media/whole-file.ts';

/**
 * A folder that is filled whole or not at all. Everything is first written into a hidden folder inside the target and
 * moved when all is there; when the work fails or is stopped, the hidden folder goes, and the target too if it
 * was made for this. Files of the target that the render does not make are never touched.
 */
export class RenderFolder {
  readonly target: string;
  readonly #made: string | undefined;
  readonly #work: string;

  private constructor(target: string, made: string | undefined) {
    this.target = target;
    this.#made = made;
    this.#work = join(target, `.partsong-${randomBytes(6).toString('hex')}`);
  }

  /** Makes the target where it is missing. Throws PartsongError 'target-unwritable' | 'target-full'. */
  static async open(folder: string): Promise<RenderFolder> {
    const target = resolve(folder);
    try {
      const made = await mkdir(target, { recursive: true });
      const render = new RenderFolder(target, made);
      await mkdir(render.#work);
      return render;
    } catch (error) {
      throw targetFault(error, target);
    }
  }

  /** Where a file of the render is written while the work goes on. */
  path(...parts: string[]): string {
    return join(this.#work, ...parts);
  }

  /** Moves everything to its own name. What stood there under the same name is replaced. */
  async keep(): Promise<void> {
    for (const name of await readdir(this.#work)) {
      const to = join(this.target, name);
      if (existsSync(to))
        await rename(to, join(this.#work, `${name}.old`)).catch(() => rm(to, { recursive: true, force: true }));
      await rename(join(this.#work, name), to);
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
}
