import type { Listen } from '../../app/shell/contract/desk-view.ts';
import type { MixSpan } from '../../core/mix/span-fade.ts';
import type { StripSettings } from '../../core/mix/strip.ts';

/**
 * What the page and the sound thread tell each other. A *stream* is the sound of one plan from its start on, loops unrolled;
 * stream frame 0 is where it starts to be heard, frames before it only warm up filters. An *epoch* numbers the streams.
 */

/** Everything that may change without new sound: sent whole, taken up by difference, heard at once. */
export interface SoundSettings {
  readonly voices: readonly { readonly id: string; readonly strip: StripSettings; readonly heard: boolean }[];
  /** Which sound of an auditioned take. */
  readonly listen: Listen;
  /** What lies outside the span of the mix is heard as well. */
  readonly spanOpen: boolean;
  readonly masterGainDb: number;
}

/** A voice of a stream, and where its sound lies in the chunks: one source, or a take before and after its cleaning. */
export interface StreamVoice {
  readonly id: string;
  readonly sources: readonly [number] | readonly [before: number, after: number];
}

/** How a new stream takes over: 'cut' as soon as it has sound, 'join' at the session frame the old one is at, unheard. */
export type TakeOver = 'cut' | 'join';

export interface NewStream {
  readonly kind: 'stream';
  readonly epoch: number;
  readonly takeOver: TakeOver;
  /** The sound rises over 5 ms; not so where it starts from nothing anyway. */
  readonly fadeIn: boolean;
  /** First stream frame that will come, 0 or less. */
  readonly firstFrame: number;
  readonly voices: readonly StreamVoice[];
  readonly span: MixSpan | null;
  readonly ceilingDbtp: number;
  readonly settings: SoundSettings;
}

/** Part of a chunk whose session frames run on without a break. */
export interface ChunkPiece {
  /** Frames from the chunk's first. */
  readonly at: number;
  readonly sessionFrame: number;
}

/** Sound of a stream; chunks of an epoch follow each other without a gap. */
export interface Chunk {
  readonly kind: 'chunk';
  readonly epoch: number;
  readonly streamFrame: number;
  readonly frames: number;
  readonly pieces: readonly ChunkPiece[];
  /** Source after source, `frames` samples each. */
  readonly samples: Float32Array<ArrayBuffer>;
  /** The stream ends with it. */
  readonly last: boolean;
}

export type ToSound =
  | NewStream
  | Chunk
  | { readonly kind: 'settings'; readonly settings: SoundSettings }
  | { readonly kind: 'run'; readonly running: boolean }
  /** Answered with 'echo' after everything sent before it was taken in. */
  | { readonly kind: 'echo' };

/** Where a stream is at a moment of the sound clock; it goes on from there evenly when `moving`. */
export interface Anchor {
  readonly kind: 'anchor';
  readonly epoch: number;
  readonly streamFrame: number;
  readonly contextFrame: number;
  readonly moving: boolean;
}

/** Every 50 ms while sound comes. */
export interface LevelsMessage {
  readonly kind: 'levels';
  readonly epoch: number;
  readonly momentaryLufs: number;
  readonly shortTermLufs: number;
  /** In the order of the stream's voices. */
  readonly voicePeaks: readonly number[];
  readonly limiterDb: number;
}

export type FromSound =
  | Anchor
  | LevelsMessage
  /** Frames of a stream that were used; the feeder keeps ahead of them. */
  | { readonly kind: 'used'; readonly epoch: number; readonly streamFrame: number }
  | { readonly kind: 'starved'; readonly starved: boolean }
  | { readonly kind: 'ended'; readonly epoch: number }
  /** A buffer that is done with, handed back so that the sound thread need not collect it. */
  | { readonly kind: 'spent'; readonly samples: Float32Array<ArrayBuffer> }
  | { readonly kind: 'echo' };
