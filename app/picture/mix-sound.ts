import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import { AAC_KBPS } from '../../core/picture/output-arguments.ts';
import { type Block, blockLength } from '../../core/signal/block.ts';
import { decode } from '../media/decode.ts';
import { encodeAudio } from '../media/encode.ts';
import { type ClipFacts, probe } from '../media/probe.ts';

/** How loud the sound of a file comes out when it is decoded. */
export interface SoundMeasure {
  readonly integratedLufs: number;
  readonly truePeakDbtp: number;
  readonly lengthSec: number;
}

export interface CodedOptions {
  readonly fromFrame: number;
  readonly toFrame: number;
  readonly ceilingDbtp: number;
  readonly signal: AbortSignal;
  readonly onProgress: (fraction: number) => void;
}

/** What coding does to the peaks of a mix, and what was done about it. */
export interface CodedSound {
  /** To be added to the mix's level, dB. Above 0 only where coding itself made the sound quieter. */
  readonly gainDb: number;
  /** Why: coding took its peaks over the ceiling, or changed its loudness, or both; null where nothing was done. */
  readonly why: 'peaks' | 'loudness' | 'both' | null;
  /** True peak after coding at the mix's own level, dBTP. */
  readonly firstPeakDbtp: number;
  /** At the level that is used, or before a small change of it that was not coded once more. */
  readonly measure: SoundMeasure;
}

/** A coded peak within this above the ceiling is let be, dB: EBU Tech 3341 grants meters of true peak 0.2 dB upward. */
export const TOLERATED_DB = 0.1;
/** Coded sound that is off the mix's loudness by more is put right, LU: EBU R 128 grants 0.5, we want a fifth. */
export const LOUDNESS_OFF_LU = 0.1;
/** More than this is no loss by coding, LU. */
const MOST_LOSS_LU = 1;
/** Lowered by so much more than the excess, dB: coding a lower sound gives peaks that differ a little. */
const SPARE_DB = 0.02;
const MOST_TRIES = 4;
/** Peaks so far below the ceiling are not taken over it by coding once more, dB: it was seen to move them by 0.3. */
const SURELY_BELOW_DB = 1;

/**
 * Codes the mix as the video will hold it (AAC) and measures it decoded. Where coding made it quieter or louder than the
 * mix, that is put right; where its true peak passes the ceiling, the mix is lowered by as much, which comes first. Memory
 * does not grow with length.
 */
export async function settleCodedSound(mixPath: string, options: CodedOptions): Promise<CodedSound> {
  const { signal, ceilingDbtp } = options;
  const facts = await probe(mixPath, signal);
  const folder = await mkdtemp(join(tmpdir(), 'partsong-sound-'));
  try {
    let gainDb = 0;
    let mostDb = Number.POSITIVE_INFINITY;
    let first: { readonly peakDbtp: number; readonly mixLufs: number } | undefined;
    let isOff = false;
    for (let attempt = 1; ; attempt++) {
      const target = join(folder, 'coded.m4a');
      const share = (fraction: number): void => options.onProgress((attempt - 1 + fraction) / attempt);
      const mixLufs = await code(mixPath, facts, target, gainDb, { ...options, onProgress: share });
      const measure = await measureSound(target, signal);
      first ??= { peakDbtp: measure.truePeakDbtp, mixLufs };
      const over = measure.truePeakDbtp - ceilingDbtp;
      const lost = first.mixLufs - measure.integratedLufs;
      if (over > TOLERATED_DB) mostDb = gainDb - over - SPARE_DB;
      const offNow = Math.abs(lost) > LOUDNESS_OFF_LU && Math.abs(lost) <= MOST_LOSS_LU;
      if (attempt === 1) isOff = offNow;
      const wanted = Math.min(mostDb, offNow ? gainDb + lost : gainDb);
      if (attempt === 1 && offNow && measure.truePeakDbtp + lost <= ceilingDbtp - SURELY_BELOW_DB) {
        // Only a little louder or softer, and far from the ceiling: the file itself is measured at the end.
        return { gainDb: Math.floor(wanted * 1000) / 1000, why: 'loudness', firstPeakDbtp: first.peakDbtp, measure };
      }
      const isSettled = over <= TOLERATED_DB && wanted - gainDb < LOUDNESS_OFF_LU / 2;
      if (isSettled || attempt === MOST_TRIES) {
        const why = gainDb === 0 ? null : reasonFor(Number.isFinite(mostDb), isOff);
        return { gainDb, why, firstPeakDbtp: first.peakDbtp, measure };
      }
      gainDb = Math.floor(wanted * 1000) / 1000;
    }
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

function reasonFor(byPeaks: boolean, byLoudness: boolean): CodedSound['why'] {
  if (byPeaks && byLoudness) return 'both';
  return byPeaks ? 'peaks' : 'loudness';
}

/** What was done to the level of the sound, and why, a sentence; undefined where nothing was. */
export function levelInSentence({ gainDb, why, firstPeakDbtp }: CodedSound, ceilingDbtp: number): string | undefined {
  if (why === null) return undefined;
  const minus = (value: string): string => value.replace('-', '\u2212');
  const how = `${Math.abs(gainDb).toFixed(2)} dB ${gainDb < 0 ? 'lower' : 'louder'}`;
  const peaks = `Coding to AAC took the true peak to ${minus(firstPeakDbtp.toFixed(2))} dBTP (the ceiling is ${minus(String(ceilingDbtp))} dBTP); in the video the mix is ${how}. Where its loudness matters more, mix again with a lower ceiling.`;
  if (why === 'peaks') return peaks;
  if (why === 'both' && gainDb < 0) return peaks;
  return `Coding to AAC changed the loudness; the mix goes into the video ${how}, so that it comes out as loud as it was.`;
}

/** Gives the loudness of what was coded, before its gain, LUFS. */
async function code(
  mixPath: string,
  facts: ClipFacts,
  target: string,
  gainDb: number,
  { fromFrame, toFrame, signal, onProgress }: CodedOptions,
): Promise<number> {
  const { rateHz, channels } = facts.chosenAudio;
  const meter = new LoudnessMeter({ rateHz, channels, truePeak: 'off' });
  const lengthSec = (toFrame - fromFrame) / rateHz;
  const cut = cutFrames(decode(mixPath, facts, { signal }), fromFrame, toFrame);
  const blocks = scaled(metered(cut, meter), 10 ** (gainDb / 20));
  const source = { kind: 'blocks', blocks, rateHz, channels } as const;
  const progress = (doneSec: number): void => onProgress(Math.min(1, doneSec / lengthSec));
  await encodeAudio(source, target, { format: 'm4a', bitrateKbps: AAC_KBPS, signal, onProgress: progress });
  return meter.result().integratedLufs;
}

async function* metered(blocks: AsyncIterable<Block>, meter: LoudnessMeter): AsyncGenerator<Block> {
  for await (const block of blocks) {
    meter.add(block);
    yield block;
  }
}

async function* scaled(blocks: AsyncIterable<Block>, gain: number): AsyncGenerator<Block> {
  for await (const block of blocks) {
    yield gain === 1 ? block : block.map((samples) => samples.map((value) => value * gain));
  }
}

/** The frames from `fromFrame` up to `toFrame`. */
async function* cutFrames(blocks: AsyncIterable<Block>, fromFrame: number, toFrame: number): AsyncGenerator<Block> {
  let at = 0;
  for await (const block of blocks) {
    const frames = blockLength(block);
    const first = Math.max(0, fromFrame - at);
    const last = Math.min(frames, toFrame - at);
    if (last > first) yield block.map((samples) => samples.subarray(first, last));
    at += frames;
    if (at >= toFrame) return;
  }
}

/** Loudness and true peak of a file's sound as it is decoded. */
export async function measureSound(file: string, signal: AbortSignal): Promise<SoundMeasure> {
  const facts = await probe(file, signal);
  const { rateHz, channels } = facts.chosenAudio;
  const meter = new LoudnessMeter({ rateHz, channels });
  for await (const block of decode(file, facts, { signal })) meter.add(block);
  const result = meter.result();
  return {
    integratedLufs: result.integratedLufs,
    truePeakDbtp: result.truePeakDbtp,
    lengthSec: result.lengthFrames / rateHz,
  };
}
