import { dbToRatio } from '../../core/signal/decibels.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { FromSound, ToSound } from './messages.ts';
import workletUrl from './mix-worklet.ts?worker&url';

/** A new level in the headphones glides in over about this, s. */
const VOLUME_GLIDE_SEC = 0.015;
const SPECTRUM_FRAMES = 8192;

/** Puts the mix's sound thread into an audio context; loads its module first. */
export async function mixNode(context: BaseAudioContext): Promise<AudioWorkletNode> {
  await context.audioWorklet.addModule(workletUrl);
  return new AudioWorkletNode(context, 'partsong-mix', {
    numberOfInputs: 0,
    numberOfOutputs: 1,
    outputChannelCount: [2],
  });
}

/** What the output tells the player. */
export interface OutputListener {
  onMessage(message: FromSound): void;
  /** The sound clock stands though it should run: a device went away, the system took the sound. */
  onStopped(): void;
  /** The sound thread broke; nothing sounds until a new output is made. */
  onBroken(): void;
}

/**
 * The way from the sound thread to the ear: mix, a tap for the spectrum, level of the headphones, device. The one file that
 * knows the browser's audio context.
 */
export class SoundOutput {
  readonly #context: AudioContext;
  readonly #node: AudioWorkletNode;
  readonly #tap: AnalyserNode;
  readonly #volume: GainNode;
  readonly #window = new Float32Array(SPECTRUM_FRAMES);

  private constructor(context: AudioContext, node: AudioWorkletNode, volumeDb: number, listener: OutputListener) {
    this.#context = context;
    this.#node = node;
    this.#tap = new AnalyserNode(context, { fftSize: SPECTRUM_FRAMES });
    this.#volume = new GainNode(context, { gain: dbToRatio(volumeDb) });
    node.connect(this.#tap).connect(this.#volume).connect(context.destination);
    node.port.onmessage = ({ data }: MessageEvent<FromSound>) => listener.onMessage(data);
    node.onprocessorerror = () => listener.onBroken();
    context.onstatechange = () => {
      if (context.state !== 'running' && context.state !== 'closed') listener.onStopped();
    };
    context.addEventListener('error', () => listener.onStopped());
  }

  /** Opens the sound; only after a gesture of the user, else the browser leaves it silent. */
  static async open(volumeDb: number, listener: OutputListener): Promise<SoundOutput> {
    const context = new AudioContext({ sampleRate: SESSION_RATE_HZ, latencyHint: 'interactive' });
    try {
      const node = await mixNode(context);
      return new SoundOutput(context, node, volumeDb, listener);
    } catch (error) {
      await context.close();
      throw error;
    }
  }

  /** Lets the sound clock run; false when the browser does not let it. */
  async resume(): Promise<boolean> {
    if (this.#context.state === 'running') return true;
    // Without a gesture or a device the promise may never settle.
    const late = new Promise<void>((resolve) => setTimeout(resolve, 1500));
    await Promise.race([this.#context.resume(), late]);
    return (this.#context.state as AudioContextState) === 'running';
  }

  /** Lets the device go until the next resume. */
  async rest(): Promise<void> {
    if (this.#context.state === 'running') await this.#context.suspend();
  }

  post(message: ToSound, transfer: Transferable[] = []): void {
    this.#node.port.postMessage(message, transfer);
  }

  /** Frame of the sound clock that is at the ear now. */
  heardFrame(): number {
    const { contextTime, performanceTime } = this.#context.getOutputTimestamp();
    if (contextTime !== undefined && performanceTime !== undefined && performanceTime > 0) {
      const since = Math.max(0, (performance.now() - performanceTime) / 1000);
      return Math.min(contextTime + since, this.#context.currentTime) * SESSION_RATE_HZ;
    }
    return (this.#context.currentTime - this.latencySec) * SESSION_RATE_HZ;
  }

  /** From the sound thread to the ear, s, as the browser says. */
  get latencySec(): number {
    return this.#context.baseLatency + (this.#context.outputLatency || 0);
  }

  setVolume(volumeDb: number): void {
    this.#volume.gain.setTargetAtTime(dbToRatio(volumeDb), this.#context.currentTime, VOLUME_GLIDE_SEC / 3);
  }

  /** The newest samples, up to 8192. */
  heard(target: Float32Array<ArrayBuffer>): void {
    // The tap gives its window from the oldest sample on, however short the target is.
    this.#tap.getFloatTimeDomainData(this.#window);
    target.set(this.#window.subarray(Math.max(0, SPECTRUM_FRAMES - target.length)));
  }

  /** Sends the sound to a device; '' is the system's own choice. Rejects where it cannot. */
  async setDevice(deviceId: string): Promise<void> {
    await (this.#context as AudioContext & { setSinkId?: (id: string) => Promise<void> }).setSinkId?.(deviceId);
  }

  async close(): Promise<void> {
    this.#node.port.onmessage = null;
    this.#context.onstatechange = null;
    this.#node.disconnect();
    await this.#context.close();
  }
}
