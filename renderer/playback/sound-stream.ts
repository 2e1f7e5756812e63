import { MixChain } from '../../core/mix/mix-chain.ts';
import type { StripSettings } from '../../core/mix/strip.ts';
import type { Block } from '../../core/signal/block.ts';
import { BlockBuffer } from '../../core/signal/block-buffer.ts';
import { dbToRatio } from '../../core/signal/decibels.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { ChunkQueue } from './chunk-queue.ts';
import type { Chunk, NewStream, SoundSettings } from './messages.ts';

/** Switching before, after and taken away fades across these frames: 10 ms. */
const LISTEN_FRAMES = 480;
const MOST_PIECE_FRAMES = 512;
const SILENT_STRIP: StripSettings = { gainDb: 0, placeDeg: 0, lowCutHz: null, muted: true };

/**
 * One stream on its way through the mix: the queue of its sound, the chain, and where it is. Frames come out one by one in
 * step with the stream; the chain's latency is fed ahead and not heard.
 */
export class SoundStream {
  readonly epoch: number;
  readonly plan: NewStream;
  readonly #queue: ChunkQueue;
  readonly #chain: MixChain;
  readonly #buffers: readonly BlockBuffer[];
  readonly #blocks: Block[];
  readonly #second = new BlockBuffer(1);
  readonly #index: ReadonlyMap<string, number>;
  readonly #gains: Float64Array;
  readonly #peaks: Float32Array;
  /** Next stream frame that goes into the chain. */
  #in: number;
  #out: number;
  #primed = false;
  /** What the chain held back at the stream's end. */
  #tail: Block | undefined;
  #tailAt = 0;
  /** How much of before and of after is heard; taken away is their difference. */
  #before = 0;
  #after = 1;
  #beforeTarget = 0;
  #afterTarget = 1;

  constructor(plan: NewStream) {
    this.epoch = plan.epoch;
    this.plan = plan;
    this.#queue = new ChunkQueue(plan.firstFrame);
    this.#in = plan.firstFrame;
    this.#out = plan.firstFrame;
    const strips = new Map(plan.settings.voices.map((voice) => [voice.id, voice.strip]));
    const voices = plan.voices.map((voice) => strips.get(voice.id) ?? SILENT_STRIP);
    // A stream without voices still has a length, which only a voice can give it.
    this.#chain = new MixChain({
      rateHz: SESSION_RATE_HZ,
      voices: voices.length > 0 ? voices : [SILENT_STRIP],
      span: plan.span,
      masterGainDb: plan.settings.masterGainDb,
      ceilingDbtp: plan.ceilingDbtp,
    });
    this.#buffers = (voices.length > 0 ? voices : [SILENT_STRIP]).map(() => new BlockBuffer(1, MOST_PIECE_FRAMES));
    this.#blocks = this.#buffers.map((buffer) => buffer.take(0));
    this.#index = new Map(plan.voices.map((voice, index) => [voice.id, index]));
    this.#gains = new Float64Array(voices.length);
    this.#peaks = new Float32Array(voices.length);
    this.set(plan.settings);
    this.#chain.setSpanOpen(plan.settings.spanOpen, true);
    this.#before = this.#beforeTarget;
    this.#after = this.#afterTarget;
  }

  /** Next stream frame that comes out. */
  get outFrame(): number {
    return this.#out;
  }

  get outSessionFrame(): number {
    return this.#queue.sessionFrame(this.#out);
  }

  /** Frames that can come out with what is there; Infinity once the stream is whole. */
  get readyFrames(): number {
    if (this.#queue.isWhole) return Number.POSITIVE_INFINITY;
    return Math.max(0, this.#queue.endFrame - Math.max(this.#in, this.#out + this.#chain.latencyFrames));
  }

  /** Its last chunk has come. */
  get isWhole(): boolean {
    return this.#queue.isWhole;
  }

  /** All of it came out. */
  get isOver(): boolean {
    return this.#queue.isWhole && this.#out >= this.#queue.endFrame;
  }

  /** Stream frame, not before the next one, at which a session frame comes out; undefined while that has not come. */
  streamFrameOf(sessionFrame: number): number | undefined {
    return this.#queue.streamFrameOf(sessionFrame, this.#out);
  }

  add(chunk: Chunk): void {
    this.#queue.add(chunk);
  }

  /** A chunk that is used up. */
  takeSpent(): Chunk | undefined {
    return this.#queue.takeSpent(Math.min(this.#in, this.#out));
  }

  set(settings: SoundSettings): void {
    for (const { id, strip, heard } of settings.voices) {
      const index = this.#index.get(id);
      if (index === undefined) continue;
      this.#chain.change(index, strip);
      this.#chain.setHeard(index, heard);
      this.#gains[index] = strip.muted || !heard ? 0 : dbToRatio(strip.gainDb);
    }
    this.#chain.setSpanOpen(settings.spanOpen);
    this.#chain.setMasterGain(settings.masterGainDb);
    this.#beforeTarget = settings.listen === 'after' ? 0 : 1;
    this.#afterTarget = settings.listen === 'after' ? 1 : settings.listen === 'before' ? 0 : -1;
  }

  /** Lets `count` frames pass unheard. They must be ready. */
  pass(count: number): void {
    this.#prime();
    for (let done = 0; done < count; ) {
      const block = this.#feed(Math.min(MOST_PIECE_FRAMES, count - done));
      done += block[0]!.length;
      this.#out += block[0]!.length;
    }
  }

  /** Gives the next `count` frames, which must be ready. */
  pull(count: number, left: Float32Array, right: Float32Array): void {
    this.#prime();
    for (let done = 0; done < count; ) {
      const block = this.#feed(count - done);
      const length = block[0]!.length;
      for (let n = 0; n < length; n++) {
        left[done + n] = block[0]![n]!;
        right[done + n] = block[1]![n]!;
      }
      done += length;
      this.#out += length;
    }
  }

  /** Largest sample of each voice since the last call, times its gain, linear; 0 where it is not heard. */
  takePeaks(): number[] {
    const peaks = Array.from(this.#peaks);
    this.#peaks.fill(0);
    return peaks;
  }

  takeLimiterDb(): number {
    return this.#chain.takeLimiterDb();
  }

  /** Fills the chain's look-ahead, so that from then on a frame comes out for every frame that goes in. */
  #prime(): void {
    if (this.#primed) return;
    this.#primed = true;
    const until = this.#in + this.#chain.latencyFrames;
    while (this.#in < until) this.#feed(until - this.#in);
  }

  /** Feeds some frames, `most` at most, and gives as many once it is primed. */
  #feed(most: number): Block {
    const left = this.#queue.isWhole ? this.#queue.endFrame - this.#in : Number.POSITIVE_INFINITY;
    if (left <= 0) return this.#giveTail(most);
    const count = this.#queue.evenFrames(this.#in, Math.min(MOST_PIECE_FRAMES, most, left));
    for (let index = 0; index < this.#buffers.length; index++) {
      const block = this.#buffers[index]!.take(count);
      this.#blocks[index] = block;
      const voice = this.plan.voices[index];
      if (voice === undefined) block[0]!.fill(0);
      else this.#fill(index, voice.sources, block[0]!);
    }
    this.#moveListen(count);
    const output = this.#chain.process(this.#blocks, this.#queue.sessionFrame(this.#in));
    this.#in += count;
    return output;
  }

  /** The last frames come from the chain's own flush, as a file's do; then silence. */
  #giveTail(most: number): Block {
    this.#tail ??= this.#chain.flush();
    const from = Math.min(this.#tailAt, this.#tail[0]!.length);
    const to = Math.min(this.#tail[0]!.length, from + most);
    this.#tailAt = to;
    this.#in += to > from ? to - from : most;
    return to > from
      ? this.#tail.map((side) => side.subarray(from, to))
      : [new Float32Array(most), new Float32Array(most)];
  }

  #fill(index: number, sources: readonly [number] | readonly [number, number], samples: Float32Array): void {
    if (sources.length === 1) {
      this.#queue.read(sources[0], this.#in, samples);
    } else {
      const after = this.#second.take(samples.length)[0]!;
      this.#queue.read(sources[0], this.#in, samples);
      this.#queue.read(sources[1], this.#in, after);
      this.#blend(samples, after);
    }
    let greatest = 0;
    for (let n = 0; n < samples.length; n++) {
      const size = Math.abs(samples[n]!);
      if (size > greatest) greatest = size;
    }
    greatest *= this.#gains[index]!;
    if (greatest > this.#peaks[index]!) this.#peaks[index] = greatest;
  }

  #blend(samples: Float32Array, after: Float32Array): void {
    const most = 1 / LISTEN_FRAMES;
    let beforePart = this.#before;
    let afterPart = this.#after;
    for (let n = 0; n < samples.length; n++) {
      beforePart = toward(beforePart, this.#beforeTarget, most);
      afterPart = toward(afterPart, this.#afterTarget, 2 * most);
      samples[n] = beforePart * samples[n]! + afterPart * after[n]!;
    }
  }

  #moveListen(count: number): void {
    this.#before = toward(this.#before, this.#beforeTarget, count / LISTEN_FRAMES);
    this.#after = toward(this.#after, this.#afterTarget, (2 * count) / LISTEN_FRAMES);
  }
}

function toward(value: number, target: number, most: number): number {
  return value < target ? Math.min(target, value + most) : Math.max(target, value - most);
}
