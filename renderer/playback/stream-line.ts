import type { Bridge } from '../../app/shell/contract/bridge.ts';
import { Feeder } from './feeder.ts';
import { readStretch } from './media-reader.ts';
import type { Anchor, TakeOver, ToSound } from './messages.ts';
import type { MixPlan } from './mix-plan.ts';
import { SoundClock } from './sound-clock.ts';
import { type StreamPlan, sessionFrameAt } from './stream-plan.ts';

/** Sound from so far before the start warms up filters and limiter unheard: 0.25 s. */
const PREROLL_FRAMES = 12_000;

interface Stream {
  readonly epoch: number;
  readonly plan: StreamPlan;
  readonly mix: MixPlan;
  readonly takeOver: TakeOver;
  readonly feeder: Feeder;
}

/** What a stream needs from around it. */
export interface StreamSurroundings {
  readonly bridge: Pick<Bridge, 'mediaUrl'>;
  readonly post: (message: ToSound, transfer?: Transferable[]) => void;
  readonly onTrouble: () => void;
}

/**
 * The streams that were sent to the sound thread: the one that sounds, and the newest, which is to take over. Feeds them,
 * and knows which place of the session is heard at a moment of the sound clock.
 */
export class StreamLine {
  readonly #clock = new SoundClock();
  /** Newest last. */
  #streams: Stream[] = [];
  #epoch = 0;

  /** The plan of the newest stream; undefined when there is none. */
  get newestMix(): MixPlan | undefined {
    return this.#streams.at(-1)?.mix;
  }

  /** What the newest stream repeats. */
  get newestLoop(): StreamPlan['loop'] {
    return this.#streams.at(-1)?.plan.loop ?? null;
  }

  get newestEpoch(): number {
    return this.#epoch;
  }

  /** Sends a new stream; `heardFrame` is the frame of the sound clock at the ear. */
  begin(plan: StreamPlan, takeOver: TakeOver, mix: MixPlan, around: StreamSurroundings, heardFrame: number): void {
    const epoch = ++this.#epoch;
    const firstFrame = -PREROLL_FRAMES;
    const { voices, span, ceilingDbtp, settings } = mix;
    const fadeIn = plan.startFrame > 0;
    around.post({ kind: 'stream', epoch, takeOver, fadeIn, firstFrame, voices, span, ceilingDbtp, settings });
    // The one that sounds goes on until the new one takes over; one that never sounded is not needed.
    const sounding = this.#clock.at(heardFrame)?.epoch;
    for (const stream of this.#streams) if (stream.epoch !== sounding || takeOver === 'cut') stream.feeder.stop();
    const feeder = new Feeder({
      epoch,
      plan,
      sourceCount: mix.sources.length,
      firstFrame,
      read: readStretch(around.bridge, mix.sources),
      give: (chunk) => around.post(chunk, [chunk.samples.buffer]),
      onTrouble: around.onTrouble,
    });
    this.#streams = [
      ...this.#streams.filter((stream) => stream.epoch === sounding),
      { epoch, plan, mix, takeOver, feeder },
    ];
  }

  /** The sound thread used a stream up to a frame. */
  use(epoch: number, streamFrame: number): void {
    this.#of(epoch)?.feeder.use(streamFrame);
  }

  /** The voices of a stream, in the order in which the sound thread speaks of them. */
  voicesOf(epoch: number): MixPlan['voices'] {
    return this.#of(epoch)?.mix.voices ?? [];
  }

  /** Takes an anchor; gives the session frame it stands for, undefined when its stream is long gone. */
  settle(anchor: Anchor): number | undefined {
    const stream = this.#of(anchor.epoch);
    if (stream === undefined) return undefined;
    this.#clock.add(anchor);
    for (const one of this.#streams) if (one.epoch < anchor.epoch) one.feeder.stop();
    return placeOf(stream, anchor.streamFrame);
  }

  /** The session frame at the ear (may be fractional); undefined while nothing was begun. */
  heardAt(heardFrame: number): number | undefined {
    const newest = this.#streams.at(-1);
    if (newest === undefined) return undefined;
    const heard = this.#clock.at(heardFrame);
    const stream = heard && this.#of(heard.epoch);
    // Right after a seek the old stream still sounds for a moment; the place that was asked for is shown.
    if (heard === undefined || stream === undefined || (stream !== newest && newest.takeOver === 'cut')) {
      return newest.plan.startFrame;
    }
    return placeOf(stream, heard.streamFrame);
  }

  /** The end of the newest stream's session. */
  get endFrame(): number {
    return this.#streams.at(-1)?.plan.endFrame ?? 0;
  }

  /** Lets go of all: the next play fetches anew. */
  forget(): void {
    for (const stream of this.#streams) stream.feeder.stop();
    this.#streams = [];
    this.#clock.clear();
  }

  #of(epoch: number): Stream | undefined {
    return this.#streams.find((stream) => stream.epoch === epoch);
  }
}

function placeOf(stream: Stream, streamFrame: number): number {
  return Math.min(sessionFrameAt(stream.plan, Math.max(0, streamFrame)), stream.plan.endFrame);
}
