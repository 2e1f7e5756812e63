import { renameSync, rmSync } from 'node:fs';
import { resolve } from 'node:path';
import { type FoundPart, severalTakes } from '../../../core/lineup/several-takes.ts';
import type { TakeListener } from '../../../core/lineup/take-listener.ts';
import { SilenceFinder, type TakeStudy } from '../../../core/noise/silence-finder.ts';
import { type Block, blockLength } from '../../../core/signal/block.ts';
import { PartsongError, throwIfCancelled } from '../../../core/signal/fault.ts';
import { FoldMeter, type FoldPlan, fold, MONO_PLAN } from '../../../core/signal/fold.ts';
import { BYTES_PER_SAMPLE } from '../../../core/wave/format.ts';
import type { EndsApart } from '../../media/audio-facts.ts';
import { changedFault, sizeOfClip } from '../../media/clip-faults.ts';
import { type OpenedClip, openClip } from '../../media/open-clip.ts';
import type { ClipFacts } from '../../media/probe.ts';
import { decodeWave, readWaveHeader, type WaveSamples } from '../../media/wave-clip.ts';
import type { TaskControl } from '../control.ts';
import { partOf } from '../part-path.ts';
import { PeakGatherer, type Peaks } from '../peaks.ts';
import { SoundFileWriter } from '../sound-file.ts';
import { Spool } from '../spool.ts';
import { signalOver } from '../stop-signal.ts';
import { type StoredTrace, storedTrace, TraceWriter } from '../trace-store.ts';

export interface TakeInRequest {
  readonly file: string;
  /** Where the mono sound goes; it takes this name when it is whole. A mono WAVE clip is left in its place instead. */
  readonly soundPath: string;
  /** Where the trace for line-up goes; absent: neither trace nor waveform is wanted. */
  readonly tracePath?: string;
}

/** What one reading of a clip brought. */
export interface TakeInResult {
  /** Where its sound lies, mono, at the clip's own rate, from clip time zero on: in the cache, or the clip itself. */
  readonly soundPath: string;
  readonly rateHz: number;
  readonly lengthFrames: number;
  readonly container: string;
  readonly codec: string;
  readonly channels: number;
  readonly hasPicture: boolean;
  readonly truncated: boolean;
  readonly fold: FoldPlan;
  readonly peaks: Peaks | null;
  /** What one reading showed of silences, clipping and digital zeros. */
  readonly study: TakeStudy;
  readonly trace: StoredTrace | null;
  /** Its takes where it seems to hold several one after another; else empty. */
  readonly several: readonly FoundPart[];
  readonly notes: readonly string[];
  /** What one of the notes tells of how sound and picture end; absent where they end together. */
  readonly endsApart?: EndsApart;
}

/** Peaks a second that a take keeps for its waveform. */
const PEAKS_PER_SEC = 25;
/** A take shorter than this holds no music and no silence to learn from, s. */
const SHORTEST_SEC = 2;
const READ_FRAMES = 65536;

/** Decodes a clip into the cache and learns on the way all that one reading can tell. */
export async function takeIn(request: TakeInRequest, control: TaskControl): Promise<TakeInResult> {
  const { file, soundPath } = request;
  const stop = signalOver(control.cancel);
  const scratch = partOf(soundPath);
  const spool = new Spool(scratch, partOf(soundPath));
  let trace: TraceWriter | undefined;
  let clip: OpenedClip | undefined;
  let folded: string | undefined;
  try {
    clip = await openClip(file, {
      signal: stop.signal,
      scratch,
      onProgress: (doneSec, lengthSec) => {
        const share = (clip?.decoding.channels ?? 1) > 1 ? 0.7 : 1;
        if (lengthSec > 0) control.onProgress((doneSec / lengthSec) * share);
      },
    });
    const { facts, decoding } = clip;
    const { rateHz, channels } = facts.chosenAudio;
    if (channels > 1) folded = partOf(soundPath);
    trace = request.tracePath === undefined ? undefined : new TraceWriter(request.tracePath, rateHz);
    const study = new Study(rateHz, folded, trace?.listener);
    const plan = await listen(clip, study, spool, control);
    const report = decoding.report();
    // A clip of several channels may be read twice.
    if (study.frames !== report.frames) throw changedFault(file);
    const found = study.finder.study();
    refuseUnusable(file, found.peak, study.peaks.isFinite, report.frames / rateHz);
    const inPlace = facts.container === 'wave' && channels === 1;
    if (folded !== undefined) renameSync(folded, soundPath);
    else if (!inPlace) spool.keepAs(soundPath);
    const stored = trace?.finish() ?? null;
    const several = stored === null ? [] : severalTakes(storedTrace(request.tracePath!, stored));
    const notes = [...facts.notes, ...report.notes, plan.note];
    return {
      soundPath: inPlace ? resolve(file) : soundPath,
      rateHz,
      lengthFrames: report.frames,
      container: facts.container,
      codec: facts.chosenAudio.codec,
      channels,
      hasPicture: facts.video !== undefined,
      truncated: facts.truncated || report.truncated,
      fold: plan,
      peaks: trace === undefined ? null : study.peaks.result(),
      study: found,
      trace: stored,
      several,
      notes: [...new Set(notes.filter((note) => note !== ''))],
      ...(facts.endsApart === undefined ? {} : { endsApart: facts.endsApart }),
    };
  } finally {
    await clip?.close();
    stop.release();
    trace?.close();
    spool.remove();
    if (folded !== undefined) rmSync(folded, { force: true });
  }
}

/** Reads a clip to its end, into the spool (but WAVE, which lies there plainly) and the study; gives how its channels became one. */
async function listen(
  { facts, decoding }: OpenedClip,
  study: Study,
  spool: Spool,
  control: TaskControl,
): Promise<FoldPlan> {
  const { rateHz, channels } = facts.chosenAudio;
  const isWave = facts.container === 'wave';
  const meter = channels > 1 ? new FoldMeter(rateHz) : undefined;
  try {
    for await (const block of decoding) {
      throwIfCancelled(control.cancel);
      if (!isWave) spool.add(block, decoding.isAsWritten);
      if (meter === undefined) study.add(block[0]!);
      else meter.add(block);
      await control.breathe();
    }
    spool.close();
    if (meter === undefined) return MONO_PLAN;
    const plan = meter.result();
    await foldInto(study, await whereDecoded(facts, spool), plan, control);
    return plan;
  } finally {
    study.close();
  }
}

/** Everything that listens while a take is read, and the file it is written to. */
export class Study {
  readonly finder: SilenceFinder;
  readonly peaks: PeakGatherer;
  /** How many were given to it. */
  frames = 0;
  readonly #listener: TakeListener | undefined;
  readonly #writer: SoundFileWriter | undefined;

  /** path: where the sound is written; undefined: nowhere. listener: of line-up; undefined: no trace is wanted. */
  constructor(rateHz: number, path: string | undefined, listener: TakeListener | undefined) {
    this.#listener = listener;
    this.finder = new SilenceFinder(rateHz);
    this.peaks = new PeakGatherer(rateHz, PEAKS_PER_SEC);
    this.#writer = path === undefined ? undefined : new SoundFileWriter(path);
  }

  add(samples: Float32Array): void {
    const block: Block = [samples];
    this.frames += samples.length;
    this.#writer?.write(samples);
    this.#listener?.add(block);
    this.finder.add(block);
    this.peaks.add(samples);
  }

  close(): void {
    this.#writer?.close();
  }
}

/** Plain samples of several channels, and the file they lie in. */
interface Lying {
  readonly path: string;
  readonly samples: WaveSamples;
}

/** Where the channels of a clip lie once it was read: in the clip itself, or where it was decoded to. */
async function whereDecoded({ file, container, chosenAudio }: ClipFacts, spool: Spool): Promise<Lying> {
  const { channels } = chosenAudio;
  if (container !== 'wave') {
    const { path, sizeBytes } = spool;
    return { path, samples: { format: 'float32', channels, dataOffsetBytes: 0, dataBytes: sizeBytes } };
  }
  const samples = readWaveHeader(file, await sizeOfClip(file));
  if (samples === undefined) throw changedFault(file);
  return { path: file, samples };
}

/** The way of a fold can only be told at the end, so the channels are read a second time. */
async function foldInto(study: Study, { path, samples }: Lying, plan: FoldPlan, control: TaskControl): Promise<void> {
  const frameBytes = BYTES_PER_SAMPLE[samples.format] * samples.channels;
  const mono = new Float32Array(READ_FRAMES);
  let done = 0;
  for await (const block of decodeWave(path, samples, undefined, READ_FRAMES)) {
    throwIfCancelled(control.cancel);
    const frames = blockLength(block);
    fold(block, plan, mono);
    study.add(mono.subarray(0, frames));
    done += frames * frameBytes;
    control.onProgress(0.7 + (0.3 * done) / samples.dataBytes);
    await control.breathe();
  }
}

/** Throws PartsongError where a sound is none: 'file-unreadable' | 'digital-silence' | 'too-short'. */
export function refuseUnusable(file: string, peak: number, areNumbers: boolean, lengthSec: number): void {
  if (!areNumbers) {
    throw new PartsongError(
      'file-unreadable',
      `${file} holds samples that are not numbers, so it cannot be used.`,
      'Export it again, or use the clip it was made from.',
      file,
    );
  }
  if (peak === 0) {
    throw new PartsongError(
      'digital-silence',
      `${file} holds nothing but digital silence: every sample is zero.`,
      'Check that the microphone was switched on and allowed for the camera app, and record it again.',
      file,
    );
  }
  if (lengthSec < SHORTEST_SEC) {
    throw new PartsongError(
      'too-short',
      `${file} is only ${lengthSec.toFixed(1)} s long; a take needs at least ${SHORTEST_SEC} s.`,
      'Check that it is the right clip; a take begins with some seconds of silence before the clap.',
      file,
    );
  }
}
