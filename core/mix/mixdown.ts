import { LoudnessMeter, type LoudnessReport } from '../loudness/loudness.ts';
import { type Block, blockLength, type Processor } from '../signal/block.ts';
import { BlockBuffer } from '../signal/block-buffer.ts';
import { dbToRatio } from '../signal/decibels.ts';
import { assertInRange } from '../signal/fault.ts';
import { Limiter, type LimiterWork } from './limiter.ts';
import type { MasterTry } from './master-search.ts';

/**
 * Gain and limiter at the end of a stereo mix. Latency that of the limiter, compensated; at a gain of 0 dB and under the
 * ceiling the sound passes to the bit. Allocates nothing while running.
 */
export class Master implements Processor {
  readonly latencyFrames: number;
  readonly #gain: number;
  readonly #limiter: Limiter;
  readonly #raised: BlockBuffer;

  constructor(settings: MasterTry, rateHz: number, channels = 2) {
    assertInRange('gainDb', settings.gainDb, -100, 100);
    this.#gain = dbToRatio(settings.gainDb);
    this.#limiter = new Limiter({ rateHz, channels, ceilingDbtp: settings.ceilingDbtp });
    this.latencyFrames = this.#limiter.latencyFrames;
    this.#raised = new BlockBuffer(channels);
  }

  process(input: Block): Block {
    if (this.#gain === 1) return this.#limiter.process(input);
    const raised = this.#raised.take(blockLength(input));
    for (let channel = 0; channel < raised.length; channel++) {
      raise(input[channel]!, raised[channel]!, this.#gain);
    }
    return this.#limiter.process(raised);
  }

  flush(): Block {
    return this.#limiter.flush();
  }

  reset(): void {
    this.#limiter.reset();
  }

  work(): LimiterWork {
    return this.#limiter.work();
  }
}

function raise(input: Float32Array, output: Float32Array, gain: number): void {
  for (let n = 0; n < input.length; n++) output[n] = input[n]! * gain;
}

/** What a pass over the mix gave. */
export interface MasterPassResult {
  readonly loudness: LoudnessReport;
  readonly limiter: LimiterWork;
}

/**
 * One pass of a MasterSearch: gain, limiter and meter in one stream. Blocks come out as from `Master`, so that a pass may
 * write its file while it measures; when it is accepted the file is already there.
 */
export class MasterPass implements Processor {
  readonly latencyFrames: number;
  readonly #rateHz: number;
  readonly #master: Master;
  readonly #curves: boolean;
  #meter: LoudnessMeter;

  /** curves: whether the report holds loudness over time. */
  constructor(settings: MasterTry, rateHz: number, curves = false) {
    this.#rateHz = rateHz;
    this.#curves = curves;
    this.#master = new Master(settings, rateHz);
    this.latencyFrames = this.#master.latencyFrames;
    this.#meter = this.#newMeter();
  }

  process(input: Block): Block {
    const output = this.#master.process(input);
    this.#meter.add(output);
    return output;
  }

  flush(): Block {
    const output = this.#master.flush();
    this.#meter.add(output);
    return output;
  }

  reset(): void {
    this.#master.reset();
    this.#meter = this.#newMeter();
  }

  result(): MasterPassResult {
    return { loudness: this.#meter.result(), limiter: this.#master.work() };
  }

  #newMeter(): LoudnessMeter {
    return new LoudnessMeter({ rateHz: this.#rateHz, channels: 2, curves: this.#curves });
  }
}
