import type { ClipPicture } from '../../../core/picture/clip-picture.ts';

/** The moving picture of a take's clip, and how the page can show it. */
export interface TakePictureView {
  readonly clip: ClipPicture;
  /** FFmpeg's name of its codec. */
  readonly codec: string;
  /** The clip itself can be expected to play in a page (see media.ts, clip/). */
  readonly plays: boolean;
  /**
   * A small copy for looking at (proxy/), made only once the page asked for pictures; until it is there the clip itself is
   * shown where it plays. 'failed' has a fault.
   */
  readonly proxy: 'waiting' | 'working' | 'ready' | 'stopped' | 'failed';
  readonly proxyFault: string | null;
}

/** The newest video that was made here. Paths are full. */
export interface MadePictureView {
  readonly folder: string;
  readonly files: readonly {
    readonly path: string;
    readonly what: 'video' | 'cover';
    readonly sizeBytes: number;
  }[];
  readonly canvas: { readonly widthPx: number; readonly heightPx: number };
  /** Pictures a second as FFmpeg writes it: 30, 30000/1001. */
  readonly rate: string;
  readonly pictures: number;
  readonly lengthSec: number;
  readonly tiles: number;
  /** How far picture and sound of a tile lie apart at most by the plan, ms: rounding to pictures. */
  readonly worstOffsetMs: number;
  /** Measured on the sound of the file, decoded. */
  readonly integratedLufs: number | null;
  readonly truePeakDbtp: number | null;
  /** How much lower than the mix, dB, so that coding keeps the ceiling. */
  readonly loweredDb: number;
  readonly tookSec: number;
  readonly notes: readonly string[];
  /** False when the session has changed since. */
  readonly current: boolean;
}
