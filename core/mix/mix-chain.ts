import { type Block, blockLength } from '../signal/block.ts';
import { dbToRatio } from '../signal/decibels.ts';
import { assertInRange } from '../signal/fault.ts';
import { Limiter } from './limiter.ts';
import { MixBus } from './mixer.ts';
import { type MixSpan, SpanFade } from './span-fade.ts';
import type { StripSettings } from './strip.ts';

/** What a MixChain is made of. */
export interface MixChainSettings {
  readonly rateHz: number;
  /** A strip a voice; their order is that of the sum. */
  readonly voices: readonly StripSettings[];
  /** When the mix sounds; null: throughout. */
  readonly span: MixSpan | null;
  /** Gain at the end, -100 to 100 dB. */
  readonly masterGainDb: number;
  /** Highest true peak, -40 to 0 dBTP. */
  readonly ceilingDbtp: number;
}

/** A new gain at the end glides in over this, s: slow, as it follows a measurement and not a hand. */
const MASTER_GLIDE_SEC = 0.5;

/**
 * The whole way from voices to the finished mix in one synchronous stage, with settings that change while it runs:
 * strips and their sum, fades at the ends of the span, gain, limiter. It is made of the very parts a mixdown is made of;
 * with settings left alone its output is that of the mixdown, sample for sample (test/core/mix/mix-chain.test.ts).
 *
 * Output is in step with the input: the limiter's latency (5 ms and 17 frames) is compensated, so fewer frames come out at
 * first and the rest by feeding silence or `flush`. The sound does not depend on how it was cut. Allocates nothing while
 * the block length stays the same.
 */
export class MixChain {
  readonly latencyFrames: number;
  readonly #bus: MixBus;
  readonly #fade: SpanFade;
  readonly #limiter: Limiter;
  readonly #glideFrames: number;
  #gain: number;
  #gainTarget: number;
  #gainFactor = 1;
  #glideLeft = 0;

  constructor(settings: MixChainSettings) {
    const { rateHz, voices, span, masterGainDb, ceilingDbtp } = settings;
    assertInRange('masterGainDb', masterGainDb, -100, 100);
    this.#bus = new MixBus(voices, rateHz);
    this.#fade = new SpanFade(span, rateHz);
    this.#limiter = new Limiter({ rateHz, channels: 2, ceilingDbtp });
    this.latencyFrames = this.#limiter.latencyFrames;
    this.#glideFrames = Math.round(MASTER_GLIDE_SEC * rateHz);
    this.#gain = dbToRatio(masterGainDb);
    this.#gainTarget = this.#gain;
  }

  /** How a voice goes into the mix from here on; glides in over 20 ms. The same settings again change nothing. */
  change(voice: number, settings: StripSettings): void {
    const strip = this.#bus.strips[voice]!;
    if (!sameStrip(strip.settings, settings)) strip.change(settings);
  }

  /** Silences a voice apart from its settings (another one is heard alone), or lets it sound again; 20 ms. */
  setHeard(voice: number, heard: boolean): void {
    this.#bus.strips[voice]!.setHeard(heard);
  }

  /** Lets what lies outside the span be heard as well; see SpanFade. */
  setSpanOpen(open: boolean, atOnce = false): void {
    this.#fade.setOpen(open, atOnce);
  }

  /** A new gain at the end, dB, glides in over 0.5 s, even in dB. */
  setMasterGain(gainDb: number): void {
    assertInRange('gainDb', gainDb, -100, 100);
    const target = dbToRatio(gainDb);
    if (target === this.#gainTarget) return;
    this.#gainTarget = target;
    this.#gainFactor = (target / this.#gain) ** (1 / this.#glideFrames);
    this.#glideLeft = this.#glideFrames;
  }

  /**
   * voices: a mono block a strip, all of one length, which begin at session frame `fromFrame`. Gives the stereo frames
   * that are ready, valid until the next call.
   */
  process(voices: readonly Block[], fromFrame: number): Block {
    const sum = this.#bus.process(voices);
    this.#fade.apply(sum, fromFrame);
    this.#raise(sum[0]!, sum[1]!, blockLength(sum));
    return this.#limiter.process(sum);
  }

  /** The frames still held back. */
  flush(): Block {
    return this.#limiter.flush();
  }

  /** Most that the limiter took away since the last call, dB. */
  takeLimiterDb(): number {
    return this.#limiter.takeMostDb();
  }

  #raise(left: Float32Array, right: Float32Array, length: number): void {
    const gliding = Math.min(this.#glideLeft, length);
    for (let n = 0; n < gliding; n++) {
      this.#gain *= this.#gainFactor;
      left[n]! *= this.#gain;
      right[n]! *= this.#gain;
    }
    this.#glideLeft -= gliding;
    if (gliding > 0 && this.#glideLeft === 0) this.#gain = this.#gainTarget;
    const gain = this.#gain;
    if (gain === 1) return;
    for (let n = gliding; n < length; n++) {
      left[n]! *= gain;
      right[n]! *= gain;
    }
  }
}

function sameStrip(one: StripSettings, other: StripSettings): boolean {
  return (
    one.gainDb === other.gainDb &&
    one.placeDeg === other.placeDeg &&
    one.lowCutHz === other.lowCutHz &&
    one.muted === other.muted
  );
}
