import type { ByteStore } from './byte-store.ts';
import type { Rises } from './trace.ts';

/** Rate of the slow copy whose spectra are looked at, about, Hz. */
export const SLOW_HZ = 4000;
/** Its samples in a frame. */
export const WINDOW = 512;
/** Bin of the spectrum that is the first line. */
export const FIRST_LINE = 8;

/** Where a listener puts what grows with the recording: files, or memory. */
export interface ListenerStores {
  /** Of no use when the listener has given its rises. 6.7 kB a second. */
  readonly steps: ByteStore;
  /** The levels of the trace, as `readLevels` reads them. 4 kB a second. */
  readonly levels: ByteStore;
}

/** How a TakeListener hears: in a kernel, or in plain TypeScript. */
export interface Hearing {
  /** Ticks of the levels so far. */
  readonly ticks: number;
  add(samples: Float32Array): void;
  /** The rises of what was heard so far; the levels are then whole in their store. */
  rises(): Omit<Rises, 'lengthSec'>;
}
