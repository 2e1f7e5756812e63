import { createHash } from 'node:crypto';
import { mkdirSync, readdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { partOf } from '../work/part-path.ts';

/** A record as it lies on the disk. */
interface Kept<Value> {
  /** Bytes of each file of the entry, by name. */
  readonly sizes: Readonly<Record<string, number>>;
  readonly record: Value;
}

/**
 * Sound and records kept by content: the key is a hash of everything that shaped them (the clip's fingerprint, the
 * step's version, every parameter), so that a moved fader never cleans again and a changed setting never meets an old
 * sound. An entry is `<key>.f32` (and what else begins with `<key>.`) beside `<key>.json`; the record is written last
 * and names the size of each file, so that an entry cut short by a crash or a full disk is made anew.
 */
export class Cache {
  readonly folder: string;

  constructor(folder: string) {
    this.folder = folder;
    mkdirSync(folder, { recursive: true });
  }

  /** The key of what `shapedBy` (plain JSON) makes. */
  static keyOf(...shapedBy: readonly unknown[]): string {
    return createHash('sha256').update(JSON.stringify(shapedBy)).digest('hex').slice(0, 32);
  }

  /** Where the sound of a key lies, or will lie. */
  soundPath(key: string): string {
    return join(this.folder, `${key}.f32`);
  }

  /** The record of a key; undefined when the entry is not there or not whole. */
  record<Value>(key: string): Value | undefined {
    try {
      const kept = JSON.parse(readFileSync(this.#recordPath(key), 'utf8')) as Kept<Value>;
      const whole = Object.entries(kept.sizes).every(
        ([name, sizeBytes]) => statSync(join(this.folder, name)).size === sizeBytes,
      );
      return whole ? kept.record : undefined;
    } catch {
      return undefined;
    }
  }

  /** Keeps a record, and so declares the entry whole. */
  keep(key: string, record: unknown): void {
    const path = this.#recordPath(key);
    const files = readdirSync(this.folder).filter(
      (name) => name.startsWith(`${key}.`) && !name.endsWith('.json') && !name.endsWith('.part'),
    );
    const sizes = Object.fromEntries(files.map((name) => [name, statSync(join(this.folder, name)).size]));
    const part = partOf(path);
    try {
      writeFileSync(part, JSON.stringify({ sizes, record } satisfies Kept<unknown>));
      renameSync(part, path);
    } catch (error) {
      rmSync(part, { force: true });
      throw error;
    }
  }

  /** Removes what was never finished, as a killed process leaves it. Only where nobody else can be at work: behind the session's lock. */
  sweep(): void {
    for (const name of readdirSync(this.folder)) {
      if (!name.endsWith('.part')) continue;
      try {
        rmSync(join(this.folder, name), { force: true });
      } catch {
        // On Windows an FFmpeg that outlived its Partsong may still hold it; the next opening finds it again.
      }
    }
  }

  /** Removes every entry but those named (what older settings left behind), and what was never finished. Only while no work is under way. */
  prune(keep: ReadonlySet<string>): void {
    for (const name of readdirSync(this.folder)) {
      const key = name.slice(0, name.indexOf('.'));
      if (!keep.has(key) || name.endsWith('.part')) rmSync(join(this.folder, name), { force: true });
    }
  }

  #recordPath(key: string): string {
    return join(this.folder, `${key}.json`);
  }
}
