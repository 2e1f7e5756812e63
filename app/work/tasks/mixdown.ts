import { rmSync } from 'node:fs';
import { LoudnessMeter } from '../../../core/loudness/loudness.ts';
import { MasterSearch, type MasterStep, type MasterTry } from '../../../core/mix/master-search.ts';
import { MasterPass, type MasterPassResult } from '../../../core/mix/mixdown.ts';
import { MixBus } from '../../../core/mix/mixer.ts';
import type { StripSettings } from '../../../core/mix/strip.ts';
import { type Block, blockLength } from '../../../core/signal/block.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import { SESSION_RATE_HZ, secondsToFrames } from '../../../core/signal/time.ts';
import { writeWhole } from '../../media/whole-file.ts';
import type { TaskControl } from '../control.ts';
import { openSound, SoundFile, SoundFileWriter } from '../sound-file.ts';
import { signalOver } from '../stop-signal.ts';
import { WaveFileWriter } from '../wave-file.ts';

export interface MixdownRequest {
  /** Float stems on the session's time line, all of one length, and how each goes into the mix. */
  readonly voices: readonly { readonly stemPath: string; readonly strip: StripSettings }[];
  readonly lengthFrames: number;
  /** Session times between which the mix sounds; outside it is silent. null: all of it sounds. */
  readonly span: { readonly fromSec: number; readonly toSec: number } | null;
  readonly targetLufs: number;
  readonly ceilingDbtp: number;
  readonly target: string;
  /** A file name for the summed voices while the gain is searched; removed at the end. */
  readonly busPath: string;
}

export interface MixdownResult {
  readonly integratedLufs: number;
  readonly truePeakDbtp: number;
  readonly rangeLu: number;
  readonly lengthFrames: number;
  readonly limiterMaxDb: number;
  /** Part of the time at which the limiter worked, 0 to 1. */
  readonly limiterShare: number;
  readonly masterGainDb: number;
  readonly passes: number;
  /** Short-term loudness each 0.5 s, LUFS. */
  readonly shortTermLufs: readonly number[];
  readonly notes: readonly string[];
}

const BLOCK_FRAMES = 16384;
/** The mix fades in and out over these at the ends of its span, s. */
const FADE_IN_SEC = 0.3;
const FADE_OUT_SEC = 0.5;

/** Sums the voices, finds the gain that meets target and ceiling together, and writes the 24-bit mix. */
export async function mixdown(request: MixdownRequest, control: TaskControl): Promise<MixdownResult> {
  const stop = signalOver(control.cancel);
  try {
    const unlimited = sumVoices(request, control);
    const search = new MasterSearch(request, unlimited);
    return await writeWhole(
      request.target,
      async (path) => {
        for (let pass = 1; ; pass++) {
          const made = masterPass(request, search.next, path, control, pass);
          const { integratedLufs, truePeakDbtp } = made.loudness;
          const step = search.report({ integratedLufs, truePeakDbtp });
          if (step.kind === 'done') return resultOf(made, step, pass);
        }
      },
      stop.signal,
    );
  } finally {
    stop.release();
    rmSync(request.busPath, { force: true });
  }
}

function resultOf(made: MasterPassResult, step: MasterStep & { kind: 'done' }, passes: number): MixdownResult {
  const { loudness, limiter } = made;
  return {
    integratedLufs: loudness.integratedLufs,
    truePeakDbtp: loudness.truePeakDbtp,
    rangeLu: loudness.rangeLu,
    lengthFrames: loudness.lengthFrames,
    limiterMaxDb: limiter.mostDb,
    limiterShare: limiter.share,
    masterGainDb: step.chosen.gainDb,
    passes,
    shortTermLufs: (loudness.curves?.shortTermLufs ?? []).filter((_, n) => n % 5 === 4),
    notes: step.notes,
  };
}

/** The stereo sum of the voices, kept as interleaved floats in a file so that the voices run only once. */
function sumVoices(request: MixdownRequest, control: TaskControl): { integratedLufs: number; truePeakDbtp: number } {
  const stems = request.voices.map((voice) => openSound(voice.stemPath, SESSION_RATE_HZ));
  const bus = new MixBus(
    request.voices.map((voice) => voice.strip),
    SESSION_RATE_HZ,
  );
  const fade = new SpanFade(request.span, request.lengthFrames);
  const meter = new LoudnessMeter({ rateHz: SESSION_RATE_HZ, channels: 2 });
  const writer = new SoundFileWriter(request.busPath);
  try {
    const buffers = stems.map(() => new Float32Array(BLOCK_FRAMES));
    const interleaved = new Float32Array(2 * BLOCK_FRAMES);
    for (let from = 0; from < request.lengthFrames; from += BLOCK_FRAMES) {
      throwIfCancelled(control.cancel);
      const frames = Math.min(BLOCK_FRAMES, request.lengthFrames - from);
      const voices = buffers.map((buffer, index): Block => {
        const samples = buffer.subarray(0, frames);
        stems[index]!.read(from, samples);
        return [samples];
      });
      const sum = bus.process(voices);
      fade.apply(sum, from);
      meter.add(sum);
      interleave(sum, interleaved);
      writer.write(interleaved.subarray(0, 2 * frames));
      control.onProgress((0.4 * from) / request.lengthFrames);
    }
  } finally {
    writer.close();
    for (const sound of stems) sound.close();
  }
  return meter.result();
}

function masterPass(
  request: MixdownRequest,
  settings: MasterTry,
  path: string,
  control: TaskControl,
  pass: number,
): MasterPassResult {
  const bus = new SoundFile(request.busPath, SESSION_RATE_HZ);
  const writer = new WaveFileWriter(path, { format: 'pcm24', channels: 2, rateHz: SESSION_RATE_HZ });
  try {
    const master = new MasterPass(settings, SESSION_RATE_HZ, true);
    const interleaved = new Float32Array(2 * BLOCK_FRAMES);
    const sum = [new Float32Array(BLOCK_FRAMES), new Float32Array(BLOCK_FRAMES)];
    const begun = 0.4 + 0.6 * (1 - 1 / pass);
    for (let from = 0; from < request.lengthFrames; from += BLOCK_FRAMES) {
      throwIfCancelled(control.cancel);
      const frames = Math.min(BLOCK_FRAMES, request.lengthFrames - from);
      const block = sum.map((samples) => samples.subarray(0, frames));
      bus.read(2 * from, interleaved.subarray(0, 2 * frames));
      deinterleave(interleaved, block);
      writer.write(master.process(block));
      control.onProgress(begun + ((1 - begun) * 0.9 * from) / request.lengthFrames);
    }
    writer.write(master.flush());
    writer.finish();
    return master.result();
  } catch (error) {
    writer.abandon();
    throw error;
  } finally {
    bus.close();
  }
}

function interleave(block: Block, out: Float32Array): void {
  const left = block[0]!;
  const right = block[1]!;
  for (let n = 0; n < left.length; n++) {
    out[2 * n] = left[n]!;
    out[2 * n + 1] = right[n]!;
  }
}

function deinterleave(from: Float32Array, block: Block): void {
  const left = block[0]!;
  const right = block[1]!;
  for (let n = 0; n < left.length; n++) {
    left[n] = from[2 * n]!;
    right[n] = from[2 * n + 1]!;
  }
}

/** Silence outside the span, raised-cosine fades at its ends. */
class SpanFade {
  readonly #from: number;
  readonly #to: number;
  readonly #in = secondsToFrames(FADE_IN_SEC, SESSION_RATE_HZ);
  readonly #out = secondsToFrames(FADE_OUT_SEC, SESSION_RATE_HZ);
  readonly #whole: boolean;

  constructor(span: MixdownRequest['span'], lengthFrames: number) {
    this.#whole = span === null;
    this.#from = span === null ? 0 : secondsToFrames(span.fromSec, SESSION_RATE_HZ);
    this.#to = span === null ? lengthFrames : secondsToFrames(span.toSec, SESSION_RATE_HZ);
  }

  apply(block: Block, blockFrame: number): void {
    if (this.#whole) return;
    const frames = blockLength(block);
    if (blockFrame >= this.#from + this.#in && blockFrame + frames <= this.#to - this.#out) return;
    for (let n = 0; n < frames; n++) {
      const gain = this.#gainAt(blockFrame + n);
      for (const samples of block) samples[n]! *= gain;
    }
  }

  #gainAt(frame: number): number {
    const part = Math.min((frame - this.#from) / this.#in, (this.#to - frame) / this.#out);
    if (part <= 0) return 0;
    return part >= 1 ? 1 : 0.5 - 0.5 * Math.cos(Math.PI * part);
  }
}
