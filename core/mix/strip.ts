import { designBiquad } from '../signal/biquad.ts';
import { type Block, blockLength, type Processor } from '../signal/block.ts';
import { BlockBuffer } from '../signal/block-buffer.ts';
import { dbToRatio } from '../signal/decibels.ts';
import { assertInRange } from '../signal/fault.ts';
import type { BlendRole } from './blend.ts';
import { placeGains } from './place.ts';

/** How a voice goes into the mix. */
export interface StripSettings {
  /** -Infinity to 40 dB. */
  readonly gainDb: number;
  /** -90 (left) to 90 (right). */
  readonly placeDeg: number;
  /** Corner of the low cut, 10 to 1000 Hz; null leaves the lows alone. */
  readonly lowCutHz: number | null;
  readonly muted: boolean;
}

/**
 * Low cut by role, second-order Butterworth. It takes out steps, handling and rumble, which otherwise add up over the
 * voices and cost loudness, and stays below the notes: the lowest of a double bass is 41 Hz, of a guitar or a deep man's
 * voice 65 to 82 Hz. A free voice may be anything, so it gets the bass's.
 */
export const LOW_CUT_HZ: Readonly<Record<BlendRole, number>> = { lead: 60, inner: 60, bass: 30, free: 30 };

/** Changes while playing glide over this time: short enough to feel immediate, long enough not to click. */
const GLIDE_SEC = 0.02;
const NEGLIGIBLE = 1e-30;

/**
 * What a voice passes on its way to the mix: low cut, gain, stage place. Mono in, stereo out, no latency. New settings
 * glide in over 20 ms, a mute likewise, so that preview and render can run this same code; a strip starts with its
 * settings in force. Allocates nothing while running.
 */
export class Strip implements Processor {
  readonly latencyFrames = 0;
  readonly #rateHz: number;
  readonly #glideFrames: number;
  readonly #first: StripSettings;
  readonly #output = new BlockBuffer(2);
  readonly #none: Block = [new Float32Array(0), new Float32Array(0)];
  #settings: StripSettings;
  #heard = true;
  #left = 0;
  #right = 0;
  /** How much of the low cut is heard: 1 all, 0 the sound as it came. */
  #cut = 0;
  #leftStep = 0;
  #rightStep = 0;
  #cutStep = 0;
  #glideLeft = 0;
  #b0 = 1;
  #a1 = 0;
  #a2 = 0;
  #z1 = 0;
  #z2 = 0;

  constructor(settings: StripSettings, rateHz: number) {
    this.#rateHz = rateHz;
    this.#glideFrames = Math.round(GLIDE_SEC * rateHz);
    this.#first = settings;
    this.#settings = settings;
    this.#start(settings);
  }

  get settings(): StripSettings {
    return this.#settings;
  }

  /** Takes new settings, which glide in from here on. A new corner of the low cut counts at once. */
  change(settings: StripSettings): void {
    this.#check(settings);
    this.#settings = settings;
    this.#glide();
  }

  /** Silences the strip without touching its settings (another one is heard alone), or lets it sound again. */
  setHeard(heard: boolean): void {
    if (heard === this.#heard) return;
    this.#heard = heard;
    this.#glide();
  }

  process(input: Block): Block {
    const output = this.#output.take(blockLength(input));
    output[0]!.fill(0);
    output[1]!.fill(0);
    this.addTo(input[0]!, output[0]!, output[1]!);
    return output;
  }

  flush(): Block {
    return this.#none;
  }

  reset(): void {
    this.#settings = this.#first;
    this.#heard = true;
    this.#start(this.#first);
  }

  /** Adds the voice to both sides of a mix; all three arrays have one length. */
  addTo(input: Float32Array, left: Float32Array, right: Float32Array): void {
    const gliding = Math.min(this.#glideLeft, input.length);
    if (gliding > 0) this.#addGliding(input, left, right, gliding);
    if (gliding === input.length) return;
    // A silenced strip still runs its filter, so that it comes back without a thump.
    if (this.#cut > 0) this.#addCut(input, left, right, gliding);
    else this.#addPlain(input, left, right, gliding);
  }

  #addCut(input: Float32Array, left: Float32Array, right: Float32Array, from: number): void {
    const b0 = this.#b0;
    const b1 = -2 * b0;
    const a1 = this.#a1;
    const a2 = this.#a2;
    const leftGain = this.#left;
    const rightGain = this.#right;
    let z1 = this.#z1;
    let z2 = this.#z2;
    for (let n = from; n < input.length; n++) {
      const x = input[n]!;
      const y = b0 * x + z1;
      z1 = b1 * x - a1 * y + z2;
      z2 = b0 * x - a2 * y;
      left[n]! += leftGain * y;
      right[n]! += rightGain * y;
    }
    this.#z1 = Math.abs(z1) < NEGLIGIBLE ? 0 : z1;
    this.#z2 = Math.abs(z2) < NEGLIGIBLE ? 0 : z2;
  }

  #addPlain(input: Float32Array, left: Float32Array, right: Float32Array, from: number): void {
    const leftGain = this.#left;
    const rightGain = this.#right;
    for (let n = from; n < input.length; n++) {
      const x = input[n]!;
      left[n]! += leftGain * x;
      right[n]! += rightGain * x;
    }
  }

  #addGliding(input: Float32Array, left: Float32Array, right: Float32Array, count: number): void {
    for (let n = 0; n < count; n++) {
      this.#left += this.#leftStep;
      this.#right += this.#rightStep;
      this.#cut += this.#cutStep;
      const x = input[n]!;
      const y = this.#b0 * x + this.#z1;
      this.#z1 = -2 * this.#b0 * x - this.#a1 * y + this.#z2;
      this.#z2 = this.#b0 * x - this.#a2 * y;
      const heard = x + this.#cut * (y - x);
      left[n]! += this.#left * heard;
      right[n]! += this.#right * heard;
    }
    this.#glideLeft -= count;
    if (this.#glideLeft === 0) this.#arrive();
  }

  #check(settings: StripSettings): void {
    assertInRange('gainDb', settings.gainDb, Number.NEGATIVE_INFINITY, 40);
    assertInRange('placeDeg', settings.placeDeg, -90, 90);
    if (settings.lowCutHz !== null) assertInRange('lowCutHz', settings.lowCutHz, 10, 1000);
  }

  #start(settings: StripSettings): void {
    this.#check(settings);
    this.#z1 = 0;
    this.#z2 = 0;
    this.#glideLeft = 0;
    this.#tune();
    this.#arrive();
  }

  /** The gains that the settings ask for, exactly. */
  #arrive(): void {
    const { left, right } = this.#targets();
    this.#left = left;
    this.#right = right;
    this.#cut = this.#settings.lowCutHz === null ? 0 : 1;
    if (this.#cut === 0) {
      this.#z1 = 0;
      this.#z2 = 0;
    }
  }

  #glide(): void {
    this.#tune();
    const { left, right } = this.#targets();
    this.#glideLeft = this.#glideFrames;
    this.#leftStep = (left - this.#left) / this.#glideFrames;
    this.#rightStep = (right - this.#right) / this.#glideFrames;
    this.#cutStep = ((this.#settings.lowCutHz === null ? 0 : 1) - this.#cut) / this.#glideFrames;
  }

  #targets(): { left: number; right: number } {
    const { gainDb, placeDeg, muted } = this.#settings;
    const gain = muted || !this.#heard ? 0 : dbToRatio(gainDb);
    const sides = placeGains(placeDeg);
    return { left: gain * sides.left, right: gain * sides.right };
  }

  #tune(): void {
    const hz = this.#settings.lowCutHz;
    if (hz === null) return;
    const made = designBiquad({ kind: 'highPass', hz, q: Math.SQRT1_2 }, this.#rateHz);
    this.#b0 = made.b0;
    this.#a1 = made.a1;
    this.#a2 = made.a2;
  }
}
