import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { LevelWatch } from './level-watch.ts';
import type { FromSound, ToSound } from './messages.ts';
import { SoundStream } from './sound-stream.ts';

/** Starting, stopping and running dry fade across these frames: 5 ms. */
const GATE_FRAMES = 256;
/** One stream gives way to another across these frames: 10 ms. */
const JOIN_FRAMES = 480;
/** With less than this ahead the sound fades out and waits. */
const DRY_FRAMES = 2 * GATE_FRAMES;
/** It goes on when so much is there again: 0.25 s. */
const RESUME_FRAMES = 12_000;
/** A stream that joins one that sounds has so much ahead, as there is time for it: 1 s. */
const JOIN_AHEAD_FRAMES = 48_000;
/** Most frames that a new stream runs through unheard in one call, so that no call takes long. */
const CATCH_UP_FRAMES = 2048;
const LEVELS_FRAMES = SESSION_RATE_HZ / 20;

type Post = (message: FromSound, transfer?: Transferable[]) => void;

/**
 * What runs on the sound thread: takes streams from the page, plays the newest, and lets one give way to another without a
 * gap. Knows no clock but the frames it is asked for; never waits.
 */
export class MixEngine {
  readonly #post: Post;
  readonly #watch = new LevelWatch();
  #current: SoundStream | undefined;
  #next: SoundStream | undefined;
  #running = false;
  #isDry = false;
  /** How open the gate is, 0 to 1. */
  #gate = 0;
  /** Frames of the change from #current to #next that are done; undefined while none is going on. */
  #joined: number | undefined;
  #moving = false;
  #sinceLevels = 0;
  #contextFrame = 0;
  #otherLeft = new Float32Array(128);
  #otherRight = new Float32Array(128);

  constructor(post: Post) {
    this.#post = post;
  }

  /** Takes a message of the page. */
  receive(message: ToSound): void {
    switch (message.kind) {
      case 'stream':
        // One that has not been heard yet is dropped; one that is fading in counts as heard.
        if (this.#joined !== undefined) this.#endJoin();
        this.#next = new SoundStream(message);
        return;
      case 'chunk':
        for (const stream of [this.#current, this.#next]) if (stream?.epoch === message.epoch) stream.add(message);
        return;
      case 'settings':
        this.#current?.set(message.settings);
        this.#next?.set(message.settings);
        return;
      case 'run':
        if (message.running && !this.#running) this.#watch.reset();
        this.#running = message.running;
        return;
      case 'echo':
        this.#post({ kind: 'echo' });
    }
  }

  /** Fills one quantum; `contextFrame` is its first frame on the sound clock. */
  render(left: Float32Array, right: Float32Array, contextFrame: number): void {
    this.#contextFrame = contextFrame;
    const count = left.length;
    this.#takeOver(count);
    const stream = this.#current;
    const opens = this.#wantsOpen(stream);
    const sounds = stream !== undefined && (opens || this.#gate > 0) && stream.readyFrames >= count;
    if (!sounds) {
      this.#gate = 0;
      left.fill(0);
      right.fill(0);
    } else {
      this.#tellMotion(true);
      stream.pull(count, left, right);
      if (this.#joined !== undefined) this.#mixJoin(left, right);
      this.#moveGate(opens ? 1 : 0, left, right);
    }
    if (!sounds) this.#tellMotion(false);
    this.#handBack(this.#current);
    this.#handBack(this.#next);
    this.#watch.add(left, right);
    this.#sinceLevels += count;
    if (this.#sinceLevels >= LEVELS_FRAMES) this.#tellLevels();
    if (sounds && this.#current!.isOver) this.#end();
  }

  /** Brings the new stream to where it can take over, and lets it. */
  #takeOver(count: number): void {
    const next = this.#next;
    if (next === undefined || this.#joined !== undefined) return;
    const current = this.#current;
    if (next.plan.takeOver === 'join' && current !== undefined) {
      this.#bringBeside(next, current);
      return;
    }
    const lag = -next.outFrame;
    if (next.readyFrames < lag + RESUME_FRAMES) return;
    if (lag > 0) next.pass(Math.min(lag, CATCH_UP_FRAMES));
    if (next.outFrame < 0 || this.#gate > 0) return;
    this.#swap(next);
    if (!next.plan.fadeIn && this.#running && next.readyFrames >= count) this.#gate = 1;
  }

  /** Runs a new stream through to the session frame of the old one, keeps it there, and joins them when it has enough ahead. */
  #bringBeside(next: SoundStream, current: SoundStream): void {
    const target = next.streamFrameOf(current.outSessionFrame);
    if (target === undefined) return;
    const lag = target - next.outFrame;
    const step = Math.min(lag, CATCH_UP_FRAMES, next.readyFrames);
    if (step > 0) next.pass(step);
    if (step < lag) return;
    const hasTime = this.#gate > 0 && current.readyFrames > RESUME_FRAMES;
    if (next.readyFrames < (hasTime ? JOIN_AHEAD_FRAMES : JOIN_FRAMES + DRY_FRAMES)) return;
    if (this.#gate === 0) {
      this.#swap(next);
      return;
    }
    this.#joined = 0;
    this.#tellPlace(next, true);
  }

  #swap(next: SoundStream): void {
    this.#current = next;
    this.#next = undefined;
    this.#joined = undefined;
    this.#moving = false;
    this.#setDry(false);
    this.#tellMotion(false, true);
  }

  #wantsOpen(stream: SoundStream | undefined): boolean {
    if (!this.#running) return false;
    const gives = this.#next?.plan.takeOver === 'cut';
    if (stream === undefined || gives) {
      this.#setDry(stream === undefined || this.#gate === 0);
      return false;
    }
    this.#setDry(stream.readyFrames < (this.#isDry ? RESUME_FRAMES : DRY_FRAMES));
    return !this.#isDry;
  }

  #setDry(isDry: boolean): void {
    if (isDry === this.#isDry) return;
    this.#isDry = isDry;
    this.#post({ kind: 'starved', starved: isDry });
  }

  #mixJoin(left: Float32Array, right: Float32Array): void {
    const next = this.#next;
    if (next === undefined || this.#joined === undefined || next.readyFrames < left.length) return;
    if (this.#otherLeft.length !== left.length) {
      this.#otherLeft = new Float32Array(left.length);
      this.#otherRight = new Float32Array(left.length);
    }
    next.pull(left.length, this.#otherLeft, this.#otherRight);
    for (let n = 0; n < left.length; n++) {
      const part = Math.min(1, (this.#joined + n + 1) / JOIN_FRAMES);
      left[n] = left[n]! + part * (this.#otherLeft[n]! - left[n]!);
      right[n] = right[n]! + part * (this.#otherRight[n]! - right[n]!);
    }
    this.#joined += left.length;
    if (this.#joined >= JOIN_FRAMES) this.#endJoin();
  }

  #endJoin(): void {
    this.#current = this.#next;
    this.#next = undefined;
    this.#joined = undefined;
    this.#moving = false;
  }

  #moveGate(target: number, left: Float32Array, right: Float32Array): void {
    if (this.#gate === target && target === 1) return;
    const step = Math.sign(target - this.#gate) / GATE_FRAMES;
    for (let n = 0; n < left.length; n++) {
      this.#gate = Math.max(0, Math.min(1, this.#gate + step));
      left[n]! *= this.#gate;
      right[n]! *= this.#gate;
    }
  }

  #tellMotion(moving: boolean, always = false): void {
    if (moving === this.#moving && !always) return;
    this.#moving = moving;
    if (this.#current !== undefined) this.#tellPlace(this.#current, moving);
  }

  #tellPlace({ epoch, outFrame }: SoundStream, moving: boolean): void {
    this.#post({ kind: 'anchor', epoch, streamFrame: outFrame, contextFrame: this.#contextFrame, moving });
  }

  #handBack(stream: SoundStream | undefined): void {
    const spent = stream?.takeSpent();
    if (spent !== undefined) this.#post({ kind: 'spent', samples: spent.samples }, [spent.samples.buffer]);
  }

  #tellLevels(): void {
    this.#sinceLevels = 0;
    const stream = this.#current;
    for (const one of [stream, this.#next]) {
      if (one !== undefined) this.#post({ kind: 'used', epoch: one.epoch, streamFrame: one.outFrame });
    }
    if (stream === undefined || !this.#moving) return;
    this.#post({
      kind: 'levels',
      epoch: stream.epoch,
      momentaryLufs: this.#watch.momentaryLufs,
      shortTermLufs: this.#watch.shortTermLufs,
      voicePeaks: stream.takePeaks(),
      limiterDb: stream.takeLimiterDb(),
    });
  }

  /** Ends, unless another stream is still to take over. */
  #end(): void {
    const next = this.#next;
    if (next !== undefined) {
      const isBehindIt = next.isWhole && next.streamFrameOf(this.#current!.outSessionFrame) === undefined;
      if (next.plan.takeOver === 'cut' || !isBehindIt) return;
      this.#swap(next);
    }
    this.#running = false;
    this.#gate = 0;
    this.#post({ kind: 'ended', epoch: this.#current!.epoch });
  }
}
