import type { Anchor } from './messages.ts';

const KEPT_ANCHORS = 8;

/**
 * Which stream frame is heard at a moment of the sound clock. The sound thread runs ahead of the ear by the device's
 * latency, so the newest anchor may lie in the future; the ones before it are kept until they are past.
 */
export class SoundClock {
  #anchors: Anchor[] = [];

  add(anchor: Anchor): void {
    this.#anchors = [...this.#anchors.slice(1 - KEPT_ANCHORS), anchor];
  }

  clear(): void {
    this.#anchors = [];
  }

  /** The stream and frame (fractional) heard at `contextFrame`; undefined before the first anchor came. */
  at(contextFrame: number): { readonly epoch: number; readonly streamFrame: number } | undefined {
    const anchor = this.#anchors.findLast((one) => one.contextFrame <= contextFrame) ?? this.#anchors[0];
    if (anchor === undefined) return undefined;
    const next = this.#anchors[this.#anchors.indexOf(anchor) + 1];
    const until = next === undefined ? contextFrame : Math.min(contextFrame, next.contextFrame);
    const gone = anchor.moving ? Math.max(0, until - anchor.contextFrame) : 0;
    return { epoch: anchor.epoch, streamFrame: anchor.streamFrame + gone };
  }
}
