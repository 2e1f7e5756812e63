import { type Block, blockLength } from '../signal/block.ts';
import { secondsToFrames } from '../signal/time.ts';

/** Session times between which a mix sounds. */
export interface MixSpan {
  readonly fromSec: number;
  readonly toSec: number;
}

/** The mix fades in and out over these at the ends of its span, s. Our own choice: long enough to hide room noise coming in. */
const FADE_IN_SEC = 0.3;
const FADE_OUT_SEC = 0.5;
/** Opening or closing the span while it sounds glides over this, s. */
const GLIDE_SEC = 0.02;

/**
 * Silence outside the span of a mix, raised-cosine fades at its ends: 0 at `fromSec`, 1 from 0.3 s after it to 0.5 s before
 * `toSec`, 0 at `toSec`. A span of null leaves everything as it is. Works on a block in place, by the block's session
 * frame, so it does not depend on how the sound was cut. No latency; allocates nothing.
 */
export class SpanFade {
  readonly #from: number;
  readonly #to: number;
  readonly #in: number;
  readonly #out: number;
  readonly #whole: boolean;
  readonly #glideStep: number;
  /** 1: what lies outside the span is heard as well. */
  #open = 0;
  #openTarget = 0;

  constructor(span: MixSpan | null, rateHz: number) {
    this.#whole = span === null;
    this.#from = span === null ? 0 : secondsToFrames(span.fromSec, rateHz);
    this.#to = span === null ? 0 : secondsToFrames(span.toSec, rateHz);
    this.#in = secondsToFrames(FADE_IN_SEC, rateHz);
    this.#out = secondsToFrames(FADE_OUT_SEC, rateHz);
    this.#glideStep = 1 / secondsToFrames(GLIDE_SEC, rateHz);
  }

  /** Lets the sound outside the span be heard (for listening only; a render never does). Glides over 20 ms, or at once. */
  setOpen(open: boolean, atOnce = false): void {
    this.#openTarget = open ? 1 : 0;
    if (atOnce) this.#open = this.#openTarget;
  }

  /** Fades the frames from session frame `blockFrame` on. */
  apply(block: Block, blockFrame: number): void {
    if (this.#whole) return;
    const gliding = this.#open !== this.#openTarget;
    if (!gliding && this.#open === 1) return;
    const frames = blockLength(block);
    if (!gliding && blockFrame >= this.#from + this.#in && blockFrame + frames <= this.#to - this.#out) return;
    for (let n = 0; n < frames; n++) {
      if (this.#open !== this.#openTarget) this.#moveOpen();
      const closed = this.#gainAt(blockFrame + n);
      const gain = this.#open === 0 ? closed : closed + this.#open * (1 - closed);
      for (let channel = 0; channel < block.length; channel++) block[channel]![n]! *= gain;
    }
  }

  #moveOpen(): void {
    const step = Math.sign(this.#openTarget - this.#open) * this.#glideStep;
    this.#open = Math.max(0, Math.min(1, this.#open + step));
  }

  #gainAt(frame: number): number {
    const part = Math.min((frame - this.#from) / this.#in, (this.#to - frame) / this.#out);
    if (part <= 0) return 0;
    return part >= 1 ? 1 : 0.5 - 0.5 * Math.cos(Math.PI * part);
  }
}
