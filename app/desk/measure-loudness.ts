import { basename } from 'node:path';
import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import { levelForReport } from '../../core/session/report.ts';
import { decode } from '../media/decode.ts';
import { probe } from '../media/probe.ts';

/** The loudness of one file. Levels are null for silence. */
export interface FileLoudness {
  readonly file: string;
  readonly rateHz: number;
  readonly channels: number;
  readonly lengthSec: number;
  readonly integratedLufs: number | null;
  readonly rangeLu: number;
  readonly maxMomentaryLufs: number | null;
  readonly maxShortTermLufs: number | null;
  readonly samplePeakDbfs: number | null;
  readonly truePeakDbtp: number | null;
  readonly notes: readonly string[];
}

/** Layouts a meter knows by their count of channels. */
const KNOWN_CHANNELS: readonly number[] = [1, 2, 5, 6];

/**
 * Measures files one after the other (BS.1770, EBU R 128). Throws as `probe` and `decode` do; the first fault ends it.
 * onProgress: fraction of all, 0 to 1.
 */
export async function measureLoudness(
  files: readonly string[],
  options: { signal?: AbortSignal; onProgress?: (fraction: number) => void } = {},
): Promise<{ files: FileLoudness[] }> {
  const results: FileLoudness[] = [];
  for (const [index, file] of files.entries()) {
    const facts = await probe(file, options.signal);
    const { rateHz, channels } = facts.chosenAudio;
    const meter = new LoudnessMeter(
      KNOWN_CHANNELS.includes(channels)
        ? { rateHz, channels }
        : { rateHz, weights: Array.from({ length: channels }, () => 1) },
    );
    const decoding = decode(file, facts, {
      signal: options.signal,
      onProgress: (doneSec, lengthSec) => {
        options.onProgress?.((index + (lengthSec > 0 ? Math.min(1, doneSec / lengthSec) : 0)) / files.length);
      },
    });
    for await (const block of decoding) meter.add(block);
    const report = meter.result();
    results.push({
      file: basename(file),
      rateHz,
      channels,
      lengthSec: report.lengthFrames / rateHz,
      integratedLufs: levelForReport(report.integratedLufs),
      rangeLu: Math.round(report.rangeLu * 1000) / 1000,
      maxMomentaryLufs: levelForReport(report.maxMomentaryLufs),
      maxShortTermLufs: levelForReport(report.maxShortTermLufs),
      samplePeakDbfs: levelForReport(report.samplePeakDbfs),
      truePeakDbtp: levelForReport(report.truePeakDbtp),
      notes: [...facts.notes, ...decoding.report().notes],
    });
  }
  return { files: results };
}
