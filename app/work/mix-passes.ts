import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import { MasterSearch, type MasterStep, type MasterTry } from '../../core/mix/master-search.ts';
import { MasterPass, type MasterPassResult } from '../../core/mix/mixdown.ts';
import { MixBus } from '../../core/mix/mixer.ts';
import { SpanFade } from '../../core/mix/span-fade.ts';
import type { StripSettings } from '../../core/mix/strip.ts';
import type { Block } from '../../core/signal/block.ts';
import { throwIfCancelled } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { TaskControl } from './control.ts';
import { type LaidSound, openLaid } from './laid-sound.ts';
import { SoundFile, SoundFileWriter } from './sound-file.ts';

/** What is mixed, and what it is to become. */
export interface MixRequest {
  /** The voices' sounds and how each goes into the mix. */
  readonly voices: readonly { readonly sound: LaidSound; readonly strip: StripSettings }[];
  readonly lengthFrames: number;
  /** Session times between which the mix sounds; outside it is silent. null: all of it sounds. */
  readonly span: { readonly fromSec: number; readonly toSec: number } | null;
  readonly targetLufs: number;
  readonly ceilingDbtp: number;
  /** A file name for the summed voices while the gain is searched; the caller removes it. */
  readonly busPath: string;
}

/** Where the blocks of a pass go. */
export interface MixSink {
  write(block: Block): void;
  finish(): void;
  abandon(): void;
}

/** The pass that met the aim. */
export interface MixPasses {
  readonly made: MasterPassResult;
  readonly step: MasterStep & { kind: 'done' };
  readonly passes: number;
}

const BLOCK_FRAMES = 16384;

/**
 * Sums the voices once and makes passes over the sum until target and ceiling are met together; the sink of the last
 * pass holds the mix. sinkOf: a sink for each pass; undefined where the mix is only measured.
 */
export function searchMaster(
  request: MixRequest,
  control: TaskControl,
  sinkOf: (pass: number) => MixSink | undefined,
): MixPasses {
  const search = new MasterSearch(request, sumVoices(request, control));
  for (let pass = 1; ; pass++) {
    const made = masterPass(request, search.next, sinkOf(pass), control, pass);
    const { integratedLufs, truePeakDbtp } = made.loudness;
    const step = search.report({ integratedLufs, truePeakDbtp });
    if (step.kind === 'done') return { made, step, passes: pass };
  }
}

/** The stereo sum of the voices, kept as interleaved floats in a file so that the voices run only once. */
function sumVoices(request: MixRequest, control: TaskControl): { integratedLufs: number; truePeakDbtp: number } {
  const sounds = request.voices.map((voice) => openLaid(voice.sound));
  try {
    return sumInto(request, sounds, control);
  } finally {
    for (const sound of sounds) sound.close();
  }
}

function sumInto(
  request: MixRequest,
  sounds: readonly { read(fromFrame: number, target: Float32Array): void }[],
  control: TaskControl,
): { integratedLufs: number; truePeakDbtp: number } {
  const bus = new MixBus(
    request.voices.map((voice) => voice.strip),
    SESSION_RATE_HZ,
  );
  const fade = new SpanFade(request.span, SESSION_RATE_HZ);
  const meter = new LoudnessMeter({ rateHz: SESSION_RATE_HZ, channels: 2 });
  const writer = new SoundFileWriter(request.busPath);
  try {
    const buffers = sounds.map(() => new Float32Array(BLOCK_FRAMES));
    const interleaved = new Float32Array(2 * BLOCK_FRAMES);
    for (let from = 0; from < request.lengthFrames; from += BLOCK_FRAMES) {
      throwIfCancelled(control.cancel);
      const frames = Math.min(BLOCK_FRAMES, request.lengthFrames - from);
      const voices = buffers.map((buffer, index): Block => {
        const samples = buffer.subarray(0, frames);
        sounds[index]!.read(from, samples);
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
  }
  return meter.result();
}

function masterPass(
  request: MixRequest,
  settings: MasterTry,
  sink: MixSink | undefined,
  control: TaskControl,
  pass: number,
): MasterPassResult {
  const bus = new SoundFile(request.busPath, SESSION_RATE_HZ);
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
      const mixed = master.process(block);
      sink?.write(mixed);
      control.onProgress(begun + ((1 - begun) * 0.9 * from) / request.lengthFrames);
    }
    const tail = master.flush();
    sink?.write(tail);
    sink?.finish();
    return master.result();
  } catch (error) {
    sink?.abandon();
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
