import type { ToSound } from './messages.ts';
import { MixEngine } from './mix-engine.ts';

// What a sound thread offers; the DOM library knows only the page.
declare const currentFrame: number;
declare class AudioWorkletProcessor {
  readonly port: MessagePort;
}
declare function registerProcessor(name: string, processor: new () => AudioWorkletProcessor): void;

/** The sound thread's end of the player: hands messages and quanta to the engine. Its own bundle. */
class MixProcessor extends AudioWorkletProcessor {
  readonly #engine = new MixEngine((message, transfer) => this.port.postMessage(message, transfer ?? []));

  constructor() {
    super();
    this.port.onmessage = ({ data }: MessageEvent<ToSound>) => this.#engine.receive(data);
  }

  process(_inputs: unknown, outputs: readonly (readonly Float32Array[])[]): boolean {
    const left = outputs[0]?.[0];
    const right = outputs[0]?.[1];
    if (left !== undefined && right !== undefined) this.#engine.render(left, right, currentFrame);
    return true;
  }
}

registerProcessor('partsong-mix', MixProcessor);
