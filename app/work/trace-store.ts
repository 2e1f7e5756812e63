import { closeSync, openSync, readSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import type { ByteStore } from '../../core/lineup/byte-store.ts';
import { readLevels } from '../../core/lineup/level-gatherer.ts';
import { TakeListener } from '../../core/lineup/take-listener.ts';
import type { Levels, Rises, TraceSource } from '../../core/lineup/trace.ts';
import { partOf } from './part-path.ts';
import { writeAll } from './sound-file.ts';

/** How many items a stored trace has; kept in the record beside it. */
export interface StoredTrace {
  readonly lengthSec: number;
  readonly frames: number;
  readonly rises: number;
  readonly ticks: number;
}

/** Bytes in a file of its own. */
class FileStore implements ByteStore {
  readonly #descriptor: number;

  /** write: anew and empty; else what is there is read. */
  constructor(path: string, write: boolean) {
    this.#descriptor = openSync(path, write ? 'w+' : 'r');
  }

  append(bytes: Uint8Array): void {
    writeAll(this.#descriptor, bytes);
  }

  read(from: number, target: Uint8Array): void {
    let done = 0;
    while (done < target.length) {
      const got = readSync(this.#descriptor, target, done, target.length - done, from + done);
      if (got === 0) throw new RangeError(`asked for ${target.length} bytes from ${from} on; allowed what is there`);
      done += got;
    }
  }

  close(): void {
    closeSync(this.#descriptor);
  }
}

function levelsPath(path: string): string {
  return `${path}.levels`;
}

/** Listens to a recording and writes its trace; what grows with the recording goes to files on the way. */
export class TraceWriter {
  readonly listener: TakeListener;
  readonly #path: string;
  readonly #stepsPart: string;
  readonly #levelsPart: string;
  readonly #steps: FileStore;
  readonly #levels: FileStore;

  /** path: of the rises; the levels lie beside it. */
  constructor(path: string, rateHz: number) {
    this.#path = path;
    this.#stepsPart = partOf(path);
    this.#levelsPart = partOf(path);
    this.#steps = new FileStore(this.#stepsPart, true);
    this.#levels = new FileStore(this.#levelsPart, true);
    this.listener = new TakeListener(rateHz, { steps: this.#steps, levels: this.#levels });
  }

  /** Writes the rises (riseFrom, riseBy, riseLine, one behind the other) and gives the levels their name. */
  finish(): StoredTrace {
    const { lengthSec, frames, riseFrom, riseBy, riseLine } = this.listener.rises();
    const bytes = [riseFrom, riseBy, riseLine].map((array) => new Uint8Array(array.buffer, 0, array.byteLength));
    // Into the steps' file, which has served, and renamed: what lies under the name is whole at any moment.
    writeFileSync(this.#stepsPart, Buffer.concat(bytes));
    renameSync(this.#stepsPart, this.#path);
    renameSync(this.#levelsPart, levelsPath(this.#path));
    return { lengthSec, frames, rises: riseLine.length, ticks: this.listener.ticks };
  }

  /** To be called at the end, however it came. */
  close(): void {
    this.#steps.close();
    this.#levels.close();
    for (const part of [this.#stepsPart, this.#levelsPart]) rmSync(part, { force: true });
  }
}

/** The trace that was stored at a path. */
export function storedTrace(path: string, stored: StoredTrace): TraceSource {
  return {
    rises: () => loadRises(path, stored),
    levels: () => loadLevels(path, stored),
  };
}

function loadRises(path: string, { lengthSec, frames, rises }: StoredTrace): Rises {
  const buffer = new ArrayBuffer(statSync(path).size);
  const store = new FileStore(path, false);
  try {
    store.read(0, new Uint8Array(buffer));
  } finally {
    store.close();
  }
  const riseFrom = new Uint32Array(buffer, 0, frames + 1);
  const riseBy = new Float32Array(buffer, riseFrom.byteLength, rises);
  const riseLine = new Uint8Array(buffer, riseFrom.byteLength + riseBy.byteLength, rises);
  return { lengthSec, frames, riseFrom, riseBy, riseLine };
}

/** One room for the levels of any take of this thread: they are looked at one after the other. */
let room = new ArrayBuffer(0);

function loadLevels(path: string, { lengthSec, ticks }: StoredTrace): Levels {
  if (room.byteLength < 8 * ticks) room = new ArrayBuffer(8 * ticks);
  const energy = new Float32Array(room, 0, ticks);
  const edge = new Float32Array(room, 4 * ticks, ticks);
  const store = new FileStore(levelsPath(path), false);
  try {
    readLevels(store, energy, edge);
  } finally {
    store.close();
  }
  return { lengthSec, energy, edge };
}
