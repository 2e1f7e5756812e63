import type { Block, Meter } from '../signal/block.ts';
import { type ClipFacts, ClipHistogram } from './clip-facts.ts';
import type { Stretch } from './learn.ts';
import { LevelTrack } from './level-track.ts';
import { type QuietRun, searchQuiet } from './quiet-search.ts';

/** A stretch in which nobody plays. */
export interface Silence extends Stretch {
  /** Level of its low, middle and high part together, dBFS (a full-scale sine is 0); only for comparison. */
  readonly levelDbfs: number;
}

/** What was found. `silences`: best first, never empty. */
export type SilenceSearch =
  | {
      readonly kind: 'found';
      readonly silences: readonly Silence[];
      readonly levelDbfs: number;
      /** 0 to 1: longer, steadier and further below the music is surer. Below 0.5 the user should look. */
      readonly confidence: number;
    }
  | {
      readonly kind: 'none';
      readonly reason: 'all music' | 'digital silence' | 'too short';
      /** The quietest stretch all the same, when there is one. */
      readonly best?: Silence;
    };

/** What one pass over a take shows before it is cleaned. */
export interface TakeStudy {
  readonly lengthFrames: number;
  readonly search: SilenceSearch;
  /** Null when the take is not clipped. */
  readonly clip: ClipFacts | null;
  /** Largest magnitude, full scale 1. */
  readonly peak: number;
  /** Stretches of exact zeros of 50 ms and more. */
  readonly digitalSilences: readonly Stretch[];
}

/** Quieter samples cannot be cut tops worth restoring. */
const LOUD = 0.25;
/** Samples that are looked through together for loud ones, which are few: of most pieces the peak tells that there are none. */
const PIECE = 4096;
/** Takes of fewer seconds have no room for a silence and music. */
const SHORTEST_TAKE_SEC = 1.5;

/**
 * Finds the silences of a take by itself: long, low and steady, neither a fade nor digital zeros. One pass, one channel; on
 * the way it finds out whether the take is clipped. `hint`: where the guide says that nobody plays (frames of the take);
 * a silence there wins over one elsewhere that is as quiet.
 * Memory: three numbers per 50 ms.
 */
export class SilenceFinder implements Meter<SilenceSearch> {
  readonly #rateHz: number;
  readonly #hint: Stretch | undefined;
  readonly #track: LevelTrack;
  readonly #clip = new ClipHistogram();
  #frames = 0;
  #peak = 0;

  /** engine: 'kernel' where it is to be had; 'plain' hears the same, 1e-5. */
  constructor(rateHz: number, hint?: Stretch, engine: 'kernel' | 'plain' = 'kernel') {
    this.#rateHz = rateHz;
    this.#hint = hint;
    this.#track = new LevelTrack(rateHz, engine);
  }

  add(block: Block): void {
    const samples = block[0];
    if (samples === undefined) return;
    for (let from = 0; from < samples.length; from += PIECE) {
      const piece = samples.length <= PIECE ? samples : samples.subarray(from, from + PIECE);
      this.#track.add(piece);
      const peak = this.#track.takePeak();
      if (peak > LOUD) this.#addLoud(piece);
      this.#peak = Math.max(this.#peak, peak);
    }
    this.#frames += samples.length;
  }

  #addLoud(samples: Float32Array): void {
    for (let n = 0; n < samples.length; n++) {
      const magnitude = Math.abs(samples[n]!);
      if (magnitude > LOUD) this.#clip.add(magnitude);
    }
  }

  result(): SilenceSearch {
    if (this.#peak === 0) return { kind: 'none', reason: 'digital silence' };
    if (this.#frames < SHORTEST_TAKE_SEC * this.#rateHz) return { kind: 'none', reason: 'too short' };
    const outcome = searchQuiet(this.#track, this.#hint);
    const step = this.#track.stepFrames;
    const silences = outcome.runs.map((run) => silenceOf(run, step));
    const best = silences[0];
    if (best === undefined) return { kind: 'none', reason: 'all music' };
    if (!outcome.certain) return { kind: 'none', reason: 'all music', best };
    return { kind: 'found', silences, levelDbfs: best.levelDbfs, confidence: outcome.confidence };
  }

  /** The search and all else that was seen on the way. */
  study(): TakeStudy {
    return {
      lengthFrames: this.#frames,
      search: this.result(),
      clip: this.#clip.result(),
      peak: this.#peak,
      digitalSilences: this.#zeros(),
    };
  }

  #zeros(): Stretch[] {
    const found: Stretch[] = [];
    const step = this.#track.stepFrames;
    let from = -1;
    for (let n = 0; n <= this.#track.steps; n++) {
      const zero = n < this.#track.steps && this.#track.power(2, n) === 0 && this.#track.power(1, n) < 1e-16;
      if (zero && from < 0) from = n;
      if (!zero && from >= 0) {
        found.push({ fromFrame: from * step, toFrame: n * step });
        from = -1;
      }
    }
    return found;
  }
}

function silenceOf(run: QuietRun, stepFrames: number): Silence {
  return { fromFrame: run.from * stepFrames, toFrame: run.to * stepFrames, levelDbfs: run.levelDb };
}
