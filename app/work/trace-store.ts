import { closeSync, openSync, readSync, statSync, writeFileSync } from 'node:fs';
import type { Trace } from '../../core/lineup/trace.ts';

/** How many items the arrays of a stored trace have; kept in the record beside it. */
export interface StoredTrace {
  readonly lengthSec: number;
  readonly frames: number;
  readonly rises: number;
  readonly ticks: number;
  readonly edges: number;
}

/** Writes the arrays of a trace one after the other: riseFrom, riseBy, energy, edge (4 bytes an item), riseLine (1). */
export function storeTrace(path: string, trace: Trace): StoredTrace {
  const arrays = [trace.riseFrom, trace.riseBy, trace.energy, trace.edge, trace.riseLine];
  writeFileSync(
    path,
    Buffer.concat(arrays.map((array) => new Uint8Array(array.buffer, array.byteOffset, array.byteLength))),
  );
  return {
    lengthSec: trace.lengthSec,
    frames: trace.frames,
    rises: trace.riseLine.length,
    ticks: trace.energy.length,
    edges: trace.edge.length,
  };
}

/** The trace that was stored at a path. */
export function loadTrace(path: string, stored: StoredTrace): Trace {
  const buffer = new ArrayBuffer(statSync(path).size);
  const descriptor = openSync(path, 'r');
  try {
    readSync(descriptor, new Uint8Array(buffer));
  } finally {
    closeSync(descriptor);
  }
  const riseFrom = new Uint32Array(buffer, 0, stored.frames + 1);
  const riseBy = new Float32Array(buffer, riseFrom.byteLength, stored.rises);
  const energy = new Float32Array(buffer, riseBy.byteOffset + riseBy.byteLength, stored.ticks);
  const edge = new Float32Array(buffer, energy.byteOffset + energy.byteLength, stored.edges);
  const riseLine = new Uint8Array(buffer, edge.byteOffset + edge.byteLength, stored.rises);
  return { lengthSec: stored.lengthSec, frames: stored.frames, riseFrom, riseLine, riseBy, energy, edge };
}
