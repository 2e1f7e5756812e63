import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { NoteIntonation } from '../../core/pitch/intonation.ts';
import { offCurve } from '../../core/pitch/off-curve.ts';
import type { PitchRow } from '../../core/pitch/pitch-span.ts';
import type { Clock } from '../../core/signal/clock.ts';
import type { Cache } from './cache.ts';

/** What a curve is made of: where a voice's pitch lies, and its notes as the report has them. */
export interface CurveVoice {
  readonly id: string;
  readonly row: PitchRow;
  readonly place: Clock | null;
  readonly notes: readonly NoteIntonation[];
}

/** Where the curve of each voice lies in their common file, bytes. */
export type CurvePlaces = Readonly<Record<string, { readonly start: number; readonly bytes: number }>>;

const UNPLACED: Clock = { offsetSec: 0, driftPpm: 0 };
const HEAD_BYTES = 16;

/** The file with the curves of a report kept under a key. */
export function curvesPath(cache: Cache, key: string): string {
  return join(cache.folder, `${key}.curves`);
}

/**
 * Writes the pitch curves of all voices beside the record of a key, before the record is kept. Each: float64 session time of
 * its first value and s from one to the next, then int16 tenths of a cent off the wanted pitch; little endian.
 */
export function keepCurves(cache: Cache, key: string, voices: readonly CurveVoice[]): CurvePlaces {
  const places: Record<string, { start: number; bytes: number }> = {};
  const pieces: Uint8Array[] = [];
  let start = 0;
  for (const { id, row, place, notes } of voices) {
    const curve = offCurve(row, place ?? UNPLACED, notes);
    const bytes = new Uint8Array(HEAD_BYTES + curve.tenths.byteLength);
    const view = new DataView(bytes.buffer);
    view.setFloat64(0, curve.fromSec, true);
    view.setFloat64(8, curve.hopSec, true);
    curve.tenths.forEach((value, n) => {
      view.setInt16(HEAD_BYTES + 2 * n, value, true);
    });
    pieces.push(bytes);
    places[id] = { start, bytes: bytes.length };
    start += bytes.length;
  }
  writeFileSync(curvesPath(cache, key), Buffer.concat(pieces));
  return places;
}
