import { type Block, blockLength } from '../../core/signal/block.ts';
import { CancelledError, throwIfCancelled } from '../../core/signal/fault.ts';
import { LONGEST_BRIDGED_SEC } from '../../core/signal/gap-bridge.ts';
import type { AudioFacts } from './audio-facts.ts';
import { changedFault, noSoundFault, sizeOfClip, unreadableFault } from './clip-faults.ts';
import { findFfmpeg } from './ffmpeg.ts';
import { GapMender } from './gap-mender.ts';
import { GrowingFile } from './growing-file.ts';
import { type LineState, layOut, layOutFile } from './lay-out.ts';
import type { ClipFacts } from './probe.ts';
import { ffmpegFault, fileArgument, type RunEnd, type RunningFfmpeg, startFfmpeg, wasEnded } from './run.ts';
import { StampReader, stampFilter, TOLD_EVERY } from './stamps.ts';
import type { Gap, TimeLineReport } from './time-line.ts';
import { decodeWave, readWaveHeader } from './wave-clip.ts';

export interface DecodeOptions {
  readonly signal?: AbortSignal | undefined;
  /**
   * Where FFmpeg may lay down the samples, as large as the sound itself: that spares a third of decoding's processor time. The file is the
   * caller's to keep or remove. Nothing is put there where a clip is read without FFmpeg.
   */
  readonly scratch?: string | undefined;
  /** Called as blocks are given: clip time reached and clip length, s (0 where the length is not known). */
  readonly onProgress?: ((doneSec: number, lengthSec: number) => void) | undefined;
}

/** What decoding a clip came to. */
export interface DecodeReport {
  readonly rateHz: number;
  readonly channels: number;
  /** Frames given, from clip time zero to the end of the sound. */
  readonly frames: number;
  /** Silence before the first sound, s. */
  readonly leadSec: number;
  /** Where the recording lost sound and silence stands in its place. */
  readonly gaps: readonly Gap[];
  /** The sound ends before the container says it should. */
  readonly truncated: boolean;
  /** Plain sentences on whatever was put in, left out or doubtful. */
  readonly notes: readonly string[];
}

/** A decoding under way. It can be read once. */
export interface Decoding extends AsyncIterable<Block> {
  readonly rateHz: number;
  readonly channels: number;
  /**
   * Whether the scratch file holds what was given so far, from its beginning on: float32 little endian, channels interleaved. Where it has become false
   * it stays so, and was true of the blocks before.
   */
  readonly isAsWritten: boolean;
  /** What it came to; only after the last block. */
  report(): DecodeReport;
}

/** Sound that ends this much before the told end counts as cut off, s. */
const SHORT_BY_SEC = 0.3;
const SAID_WHEN_CUT = /partial file|prematurely|truncat|Packet corrupt|Error while decoding|corrupt/i;

/**
 * Decodes the chosen stream of a clip at its own rate, with its own channels, on the clip's own time line: frame 0 is
 * clip time zero, and every sound lies at its presentation time (edit lists honoured, encoder delay taken off, silence
 * before a late stream and where sound was lost, padding past the told end left out).
 *
 * Blocks are planar float, full scale 1; their buffers are reused. FFmpeg waits while the reader does (not with a scratch file); it is stopped when
 * the reader leaves off or `signal` is raised. Memory does not grow with length. Throws CancelledError, or PartsongError as
 * `probe` does.
 */
export function decode(file: string, facts: ClipFacts, options: DecodeOptions = {}, begun?: Begun): Decoding {
  const { rateHz, channels } = facts.chosenAudio;
  let report: DecodeReport | undefined;
  const finish = (value: DecodeReport): void => {
    report = value;
  };
  const state: MendState = {};
  const blocks = (): AsyncGenerator<Block> =>
    facts.container === 'wave'
      ? readWave(file, facts, options, finish)
      : readFfmpeg(file, facts, options, finish, state, begun);
  return {
    rateHz,
    channels,
    get isAsWritten() {
      return options.scratch !== undefined && state.line?.isAsItCame === true && state.hasLeftOut !== true;
    },
    [Symbol.asyncIterator]: blocks,
    report() {
      if (report === undefined) throw new RangeError('report() is asked for before the last block');
      return report;
    },
  };
}

async function* readWave(
  file: string,
  facts: ClipFacts,
  options: DecodeOptions,
  finish: (report: DecodeReport) => void,
): AsyncGenerator<Block> {
  throwIfCancelled(options.signal);
  const header = readWaveHeader(file, await sizeOfClip(file));
  if (header === undefined) throw changedFault(file);
  const { rateHz, channels } = header;
  let frames = 0;
  for await (const block of decodeWave(file, header, options.signal)) {
    frames += blockLength(block);
    yield block;
    options.onProgress?.(frames / rateHz, facts.lengthSec);
  }
  finish({ rateHz, channels, frames, leadSec: 0, gaps: [], truncated: facts.truncated, notes: [] });
}

/** What FFmpeg is told so that it writes the samples of a stream to its output, and their stamps among its messages. */
export function argumentsFor(
  file: string,
  { index, rateHz, channels, edits }: Pick<AudioFacts, 'index' | 'rateHz' | 'channels' | 'edits'>,
  toldEvery: number,
): string[] {
  const layout = channels === 1 ? ':channel_layouts=mono' : channels === 2 ? ':channel_layouts=stereo' : '';
  const filters = `aformat=sample_fmts=flt:sample_rates=${rateHz}${layout},asettb=1/sr,${stampFilter(toldEvery)}`;
  return [
    ...['-nostdin', '-nostats', '-loglevel', 'info', '-protocol_whitelist', 'file,pipe', '-copyts'],
    ...(edits === undefined ? [] : ['-ignore_editlist', '1']),
    ...['-i', fileArgument(file), '-map', `0:${index}`, '-vn', '-sn', '-dn', '-af', filters],
    ...['-c:a', 'pcm_f32le', '-f', 'f32le', '-flush_packets', '0', 'pipe:1'],
  ];
}

async function* readFfmpeg(
  file: string,
  facts: ClipFacts,
  options: DecodeOptions,
  finish: (report: DecodeReport) => void,
  state: MendState,
  begun: Begun | undefined,
): AsyncGenerator<Block> {
  const { signal, onProgress } = options;
  throwIfCancelled(signal);
  await sizeOfClip(file);
  const { run, stamps, output } = begun ?? (await begin(file, facts.chosenAudio, options));
  try {
    const laid =
      output === undefined
        ? layOut(run, stamps, facts.chosenAudio, state)
        : layOutFile(output, stamps, facts.chosenAudio, state);
    for await (const block of mended(laid, facts, state)) {
      throwIfCancelled(signal);
      yield block;
      onProgress?.((state.line?.frames ?? 0) / facts.chosenAudio.rateHz, facts.lengthSec);
    }
    const end = await run.end;
    throwIfCancelled(signal);
    if (wasEnded(end)) throw ffmpegFault(end, 'decoding', file);
    if (output !== undefined) throwIfFull(end);
    if (state.line === undefined) {
      throw end.exitCode === 0
        ? noSoundFault(file, facts.video !== undefined)
        : await unreadableFault(file, end, 'decoding');
    }
    const { line, mender } = state;
    for (const block of line.finish()) {
      if (mender === undefined) yield block;
      else yield* mender.push(block, line.breaks);
    }
    if (mender !== undefined) yield* mender.finish();
    finish(reportOf(facts, line.report(), end));
  } catch (error) {
    throw signal?.aborted ? new CancelledError() : error;
  } finally {
    await run.stop();
    output?.close();
  }
}

/** A disk without room is told as where we write ourselves. */
function throwIfFull({ lastLines }: RunEnd): void {
  const code = lastLines.some((said) => /No space left on device/.test(said))
    ? 'ENOSPC'
    : lastLines.some((said) => /Disk quota exceeded/.test(said))
      ? 'EDQUOT'
      : undefined;
  if (code !== undefined) throw Object.assign(new Error(`${code}: FFmpeg could not write`), { code, syscall: 'write' });
}

/** A decoding that runs. */
export interface Begun {
  readonly run: RunningFfmpeg;
  readonly stamps: StampReader;
  /** Where its samples go; undefined: to the pipe of the run. */
  readonly output: GrowingFile | undefined;
}

/** more: what FFmpeg is told besides. onLine: is told every message but the stamps. */
export async function begin(
  file: string,
  sound: Parameters<typeof argumentsFor>[1],
  { signal, scratch }: DecodeOptions,
  aside?: { readonly more: readonly string[]; onLine(line: string): void; onLastLine(): void },
): Promise<Begun> {
  const ffmpeg = await findFfmpeg();
  const stamps = new StampReader();
  const args = argumentsFor(file, sound, scratch === undefined ? TOLD_EVERY.piped : TOLD_EVERY.filed);
  const output = scratch === undefined ? undefined : new GrowingFile(scratch);
  const onLine = (line: string): boolean => {
    const isStamp = stamps.take(line);
    if (isStamp) output?.tell(false);
    else aside?.onLine(line);
    return isStamp;
  };
  try {
    const run = startFfmpeg(ffmpeg, [...args, ...(aside?.more ?? [])], {
      signal,
      into: output?.descriptor,
      onLine,
      onLastLine: aside?.onLastLine,
      aside: aside !== undefined,
    });
    run.stdin.end();
    void run.end.then(() => output?.tell(true));
    return { run, stamps, output };
  } catch (error) {
    output?.close();
    throw error;
  }
}

interface MendState extends LineState {
  mender?: GapMender;
}

/** Blocks of a time line without the holes that it told of. */
async function* mended(blocks: AsyncIterable<Block>, facts: ClipFacts, state: MendState): AsyncGenerator<Block> {
  const { channels, rateHz } = facts.chosenAudio;
  for await (const block of blocks) {
    const { breaks } = state.line!;
    state.mender ??= new GapMender(channels, rateHz);
    yield* state.mender.push(block, breaks);
  }
}

function reportOf(facts: ClipFacts, line: TimeLineReport, end: RunEnd): DecodeReport {
  const { rateHz, channels } = facts.chosenAudio;
  const complained = end.exitCode !== 0 || end.lastLines.some((said) => SAID_WHEN_CUT.test(said));
  const short = facts.lengthSec - line.frames / rateHz > SHORT_BY_SEC;
  const truncated = facts.truncated || (short && (complained || facts.lengthTold));
  return {
    rateHz,
    channels,
    frames: line.frames,
    leadSec: line.leadFrames / rateHz,
    gaps: line.gaps,
    truncated,
    notes: notesOn(line, facts, truncated, complained),
  };
}

function notesOn(line: TimeLineReport, facts: ClipFacts, truncated: boolean, complained: boolean): string[] {
  const { lengthSec } = facts;
  const { rateHz, pace } = facts.chosenAudio;
  const notes: string[] = [];
  const lengthTold = lengthSec > 0 ? ` of ${lengthSec.toFixed(2)} s` : '';
  if (truncated) notes.push(`The clip is cut off: ${(line.frames / rateHz).toFixed(2)} s${lengthTold} could be read.`);
  else if (complained) notes.push('Some of the clip is damaged; what could be decoded is used.');
  const isShort = (gap: Gap): boolean => gap.lengthSec <= LONGEST_BRIDGED_SEC;
  notes.push(...lostNote(line.gaps.filter(isShort), 'what is around it is drawn over it'));
  notes.push(
    ...lostNote(
      line.gaps.filter((gap) => !isShort(gap)),
      'silence stands there',
    ),
  );
  if (line.overlapFrames > 0) {
    notes.push(
      `${((1000 * line.overlapFrames) / rateHz).toFixed(0)} ms of sound that overlapped itself were left out.`,
    );
  }
  if (line.leaps > 0) notes.push('Its time stamps leap; the sound is taken as continuous there.');
  // What runs evenly apart has its note already.
  if (pace === undefined && Math.abs(line.stampDriftSec) > 0.005) {
    notes.push(`Its time stamps end ${(1000 * line.stampDriftSec).toFixed(0)} ms off its count of samples.`);
  }
  if (line.tailFrames > 8192) {
    notes.push(`${(line.tailFrames / rateHz).toFixed(2)} s past the end its container tells were left out.`);
  }
  return notes;
}

function lostNote(gaps: readonly Gap[], instead: string): string[] {
  if (gaps.length === 0) return [];
  const totalMs = gaps.reduce((sum, gap) => sum + gap.lengthSec, 0) * 1000;
  const places = gaps.slice(0, 3).map((gap) => `${gap.atSec.toFixed(2)} s`);
  const more = gaps.length > 3 ? ', ...' : '';
  return [
    `The recording lost ${totalMs.toFixed(0)} ms of sound (at ${places.join(', ')}${more}); ${instead}, so that the rest stays in time.`,
  ];
}
