import { basename } from 'node:path';
import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import { type CopyReport, levelForReport } from '../../core/session/report.ts';
import type { Span } from '../../core/session/schema.ts';
import { type Block, blockLength } from '../../core/signal/block.ts';
import { secondsToFrames } from '../../core/signal/time.ts';
import { decode } from '../media/decode.ts';
import { type EncodedFormat, encodeAudio } from '../media/encode.ts';
import { probe } from '../media/probe.ts';

export interface CopyOptions {
  readonly format: EncodedFormat;
  /** The stretch of the mix to copy; null for all. */
  readonly span: Span | null;
  readonly title: string;
  readonly ceilingDbtp: number;
  readonly signal: AbortSignal;
  readonly onProgress: (fraction: number) => void;
}

/** 320 kbit/s: far above where AAC or MP3 is told from the original, and what uploads commonly take. */
const BITRATE_KBPS = 320;

/** Writes a copy of the mix for upload, cut to its music, and measures what comes out when it is decoded. */
export async function uploadCopy(
  mixPath: string,
  target: string,
  options: CopyOptions,
): Promise<CopyReport & { notes: string[] }> {
  const { signal, span } = options;
  const facts = await probe(mixPath, signal);
  const { rateHz } = facts.chosenAudio;
  const from = span === null ? 0 : secondsToFrames(span.fromSec, rateHz);
  const to = span === null ? Number.POSITIVE_INFINITY : secondsToFrames(span.toSec, rateHz);
  const lengthSec = Math.min(facts.lengthSec, to / rateHz) - from / rateHz;
  await encodeAudio(
    { kind: 'blocks', blocks: cut(decode(mixPath, facts, { signal }), from, to), rateHz, channels: 2 },
    target,
    {
      format: options.format,
      bitrateKbps: BITRATE_KBPS,
      bitDepth: 24,
      tags: { title: options.title },
      signal,
      onProgress: (doneSec) => options.onProgress((0.7 * doneSec) / lengthSec),
    },
  );
  const written = await probe(target, signal);
  const meter = new LoudnessMeter({ rateHz: written.chosenAudio.rateHz, channels: written.chosenAudio.channels });
  for await (const block of decode(target, written, { signal })) meter.add(block);
  const loudness = meter.result();
  const over = loudness.truePeakDbtp - options.ceilingDbtp;
  return {
    file: basename(target),
    lengthSec: loudness.lengthFrames / written.chosenAudio.rateHz,
    integratedLufs: levelForReport(loudness.integratedLufs),
    truePeakDbtp: levelForReport(loudness.truePeakDbtp),
    notes:
      over > 0.1
        ? [
            `Coding raised the true peak of ${basename(target)} ${over.toFixed(1)} dB above the ceiling; where that matters, mix again with a ceiling ${Math.ceil(over * 10) / 10} dB lower.`,
          ]
        : [],
  };
}

async function* cut(blocks: AsyncIterable<Block>, from: number, to: number): AsyncGenerator<Block> {
  let at = 0;
  for await (const block of blocks) {
    const frames = blockLength(block);
    const first = Math.max(0, from - at);
    const last = Math.min(frames, to - at);
    if (last > first)
      yield first === 0 && last === frames ? block : block.map((samples) => samples.subarray(first, last));
    at += frames;
    if (at >= to) return;
  }
}
