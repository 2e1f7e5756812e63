import { MixChain } from '../../../core/mix/mix-chain.ts';
import type { Block } from '../../../core/signal/block.ts';
import { Random } from '../../../core/signal/random.ts';
import type { Chunk, FromSound, NewStream, ToSound } from '../../../renderer/playback/messages.ts';
import { MixEngine } from '../../../renderer/playback/mix-engine.ts';
import { piecesOf, type StreamPlan } from '../../../renderer/playback/stream-plan.ts';

export const QUANTUM = 128;

/** Invented voices on a session's time line: pitched tones with beats of noise; seeded. */
export function inventedVoices(count: number, frames: number, seed: number): Float32Array[] {
  return Array.from({ length: count }, (_, voice) => {
    const random = new Random(seed + voice);
    const w = (2 * Math.PI * 110 * 2 ** (voice / 3)) / 48000;
    return Float32Array.from(
      { length: frames },
      (_, n) => 0.3 * Math.sin(w * n) + (n % 12_000 < 2000 ? 0.4 : 0.02) * (2 * random.uniform() - 1),
    );
  });
}

/** A stream of plain voices, one source each, all of them heard. */
export function streamOf(epoch: number, count: number, changes: Partial<NewStream> = {}): NewStream {
  return {
    kind: 'stream',
    epoch,
    takeOver: 'cut',
    fadeIn: false,
    firstFrame: -12_000,
    voices: Array.from({ length: count }, (_, n) => ({ id: `voice-${n}`, sources: [n] as const })),
    span: null,
    ceilingDbtp: -1,
    settings: {
      voices: Array.from({ length: count }, (_, n) => ({
        id: `voice-${n}`,
        strip: { gainDb: 2 - n, placeDeg: 12 * n - 20, lowCutHz: 60, muted: false },
        heard: true,
      })),
      listen: 'after',
      spanOpen: false,
      masterGainDb: 5,
    },
    ...changes,
  };
}

/** Stream frames [from, from + frames) of a plan, cut out of sources that lie in memory. */
export function chunkOf(
  epoch: number,
  plan: StreamPlan,
  sources: readonly Float32Array[],
  from: number,
  frames: number,
  last: boolean,
): Chunk {
  const pieces = piecesOf(plan, from, frames);
  const samples = new Float32Array(sources.length * frames);
  for (const [index, source] of sources.entries()) {
    for (const piece of pieces) {
      for (let n = 0; n < piece.frames; n++) {
        samples[index * frames + piece.at + n] = source[piece.sessionFrame + n] ?? 0;
      }
    }
  }
  return { kind: 'chunk', epoch, streamFrame: from, frames, pieces, samples, last };
}

/** Runs an engine over quanta as a sound thread would, and keeps what it gave and told. */
export class EngineRun {
  readonly told: (FromSound & { readonly atFrame: number })[] = [];
  readonly left: number[] = [];
  readonly right: number[] = [];
  readonly #engine: MixEngine;
  #frame = 0;

  constructor() {
    this.#engine = new MixEngine((message) => this.told.push({ ...message, atFrame: this.#frame }));
  }

  get frame(): number {
    return this.#frame;
  }

  send(...messages: readonly ToSound[]): void {
    for (const message of messages) this.#engine.receive(message);
  }

  run(quanta: number): void {
    const left = new Float32Array(QUANTUM);
    const right = new Float32Array(QUANTUM);
    for (let n = 0; n < quanta; n++) {
      this.#engine.render(left, right, this.#frame);
      this.left.push(...left);
      this.right.push(...right);
      this.#frame += QUANTUM;
    }
  }

  /** Where on the sound clock a stream began to sound. */
  began(epoch: number): number {
    const anchor = this.told.find((one) => one.kind === 'anchor' && one.moving && one.epoch === epoch);
    if (anchor?.kind !== 'anchor') throw new Error(`stream ${epoch} never began`);
    return anchor.contextFrame - anchor.streamFrame;
  }
}

/** What the chain alone makes of whole sources with a stream's settings: the rendered file's own path. */
export function chainMix(stream: NewStream, sources: readonly Float32Array[]): Block {
  const chain = new MixChain({
    rateHz: 48000,
    voices: stream.settings.voices.map((voice) => voice.strip),
    span: stream.span,
    masterGainDb: stream.settings.masterGainDb,
    ceilingDbtp: stream.ceilingDbtp,
  });
  const first = chain.process(
    sources.map((samples) => [samples]),
    0,
  );
  const head = first.map((samples) => samples.slice());
  const tail = chain.flush();
  return head.map((samples, channel) => Float32Array.from([...samples, ...tail[channel]!]));
}

/** Greatest step between neighbouring samples. */
export function greatestStep(samples: ArrayLike<number>, from: number, to: number): number {
  let greatest = 0;
  for (let n = from + 1; n < to; n++) greatest = Math.max(greatest, Math.abs(samples[n]! - samples[n - 1]!));
  return greatest;
}
