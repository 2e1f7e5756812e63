import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { decoded } from './cut-takes.ts';

/** A take that was given, and its notes in its own time. */
export interface GivenTake {
  readonly name: string;
  readonly samples: Float32Array;
  readonly heard: readonly { readonly fromSec: number; readonly toSec: number }[];
}

/** What of a truth.json is read here: notes are [session time, length, key], take time is offset_s + (1 + drift_ppm / 1e6) session time. */
interface GivenTruth {
  readonly takes: readonly {
    readonly file: string;
    readonly offset_s: number;
    readonly drift_ppm: number;
    readonly notes: readonly (readonly [number, number, number])[];
  }[];
}

/**
 * Takes in folders below the one that PARTSONG_TAKES names, each with a truth.json beside it; none where it is not set. For
 * trials on takes that lie outside the project.
 */
export function* givenTakes(folder: string): Generator<GivenTake> {
  const root = process.env['PARTSONG_TAKES'];
  if (root === undefined) return;
  for (const name of readdirSync(root).sort()) {
    const file = join(root, name, 'truth.json');
    if (!existsSync(file)) continue;
    const truth = JSON.parse(readFileSync(file, 'utf8')) as GivenTruth;
    for (const take of truth.takes) {
      const onClock = (sec: number): number => take.offset_s + sec * (1 + take.drift_ppm * 1e-6);
      const heard = take.notes.map(([sec, length]) => ({ fromSec: onClock(sec), toSec: onClock(sec + length) }));
      yield { name: `${name}/${take.file}`, samples: decoded(join(root, name, take.file), folder), heard };
    }
  }
}
