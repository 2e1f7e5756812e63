/** What FFmpeg says of a run of decoded frames. */
export interface Stamp {
  /** Presentation time of the first frame, in frames; absent where the container has none. */
  readonly frame: number | undefined;
  readonly frames: number;
}

/** How the samples that FFmpeg writes are laid out. */
export interface SampleFormat {
  readonly rateHz: number;
  readonly channels: number;
}

/**
 * At the latest after so many of FFmpeg's own runs a stamp is told, so that samples need not wait for long to know theirs. Each telling costs
 * three lines of messages; samples that wait in a file take no memory, and may wait longer (10 s of AAC).
 */
export const TOLD_EVERY = { piped: 64, filed: 512 } as const;

/**
 * The filter that tells where time stamps do not go on from the run before, and now and then that they do: the first value of its run's
 * count of frames so far + 1/2, then of its stamp + 1/4, each on a line of its own behind one of -1/8, which ends what a decoder may have
 * begun to say. The fractions tell them apart, and no two lines that follow one another are alike: FFmpeg would leave the second out.
 * The filter that shows every run (ashowinfo) took a third of the time of decoding, and as much again to be read.
 * Stamps count in frames: to be put behind `asettb=1/sr`.
 */
export function stampFilter(toldEvery: number): string {
  return [
    `aselect='if(not(eq(pts,ld(0)))+not(mod(n,${toldEvery})),print(-0.125);print(ld(1)+0.5);print(pts+0.25))`,
    'st(0,if(isnan(pts)*gt(n,0),ld(0),pts)+samples_n)',
    "st(1,ld(1)+samples_n);1'",
  ].join(';');
}

/** Not a number is written in several ways. */
const TOLD = /^-?(?:\d+\.(?:125|25|5|75)0*$|nan|1\.#)/i;
const WRITTEN = /^\s*Stream #0:0.*: Audio: pcm_f32le\b.*?, (\d+) Hz,.*, (\d+) kb\/s/;

/**
 * Collects the stamps that `stampFilter` tells among FFmpeg's messages (words of the builds of 2018 to 8), in order. A run's length is
 * known when the next one is told, or at the end. Decoders talk in between, sometimes without ending their line.
 */
export class StampReader {
  readonly #queue: Stamp[] = [];
  #head = 0;
  #count: number | undefined;
  #last: { readonly count: number; readonly frame: number | undefined } | undefined;
  #format: SampleFormat | undefined;

  /** What FFmpeg says that it writes; undefined where it did not say it. */
  get format(): SampleFormat | undefined {
    return this.#format;
  }

  /** Takes one line of messages; true when it was the filter's. */
  take(line: string): boolean {
    if (!TOLD.test(line)) {
      const written = WRITTEN.exec(line);
      if (written !== null) this.#format = formatOf(Number(written[1]), Number(written[2]));
      return false;
    }
    const value = Number(line);
    const fraction = value - Math.floor(value);
    if (fraction === 0.5) this.#count = value - 0.5;
    else if (fraction === 0.25 || Number.isNaN(value)) this.#tell(Number.isNaN(value) ? undefined : value - 0.25);
    return true;
  }

  #tell(frame: number | undefined): void {
    const count = this.#count;
    this.#count = undefined;
    if (count === undefined) return;
    const last = this.#last;
    if (last !== undefined && count > last.count) this.#queue.push({ frame: last.frame, frames: count - last.count });
    this.#last = { count, frame };
  }

  /** Frames of the runs whose length is known and that were not asked for yet. */
  get waitingFrames(): number {
    let frames = 0;
    for (let n = this.#head; n < this.#queue.length; n++) frames += this.#queue[n]!.frames;
    return frames;
  }

  /** The next run whose length is known. */
  next(): Stamp | undefined {
    const stamp = this.#queue[this.#head++];
    if (stamp === undefined) this.#head--;
    if (this.#head > 256) {
      this.#queue.splice(0, this.#head);
      this.#head = 0;
    }
    return stamp;
  }

  /** The run after the last `next`, when no more will be told: it has all frames that are left. */
  last(frames: number): Stamp {
    const frame = this.#last?.frame;
    this.#last = undefined;
    return { frame, frames };
  }
}

/** Plain samples of 32 bits: their rate tells how many channels they are. */
function formatOf(rateHz: number, kbitPerSec: number): SampleFormat {
  return { rateHz, channels: Math.round((1000 * kbitPerSec) / (32 * rateHz)) };
}
