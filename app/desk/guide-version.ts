import { basename } from 'node:path';
import type { GuidePlan } from '../../core/guide/guide-plan.ts';
import { GuideSound, type GuideSoundSettings } from '../../core/guide/guide-sound.ts';
import type { Part, Score } from '../../core/guide/score.ts';
import type { Block } from '../../core/signal/block.ts';
import { throwIfCancelled } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { encodeAudio } from '../media/encode.ts';
import { writeWhole } from '../media/whole-file.ts';
import type { GuideFormat, MakeGuideOptions } from './guide-request.ts';
import { writeGuideVideo, writeMono } from './guide-video.ts';
import { OwnVoicesMix } from './own-voices-mix.ts';
import type { OwnVoice } from './play-along.ts';

const BLOCK_FRAMES = 16384;
const PHONE_KBPS = 192;

/** What a guide is made of. */
export interface Piece {
  readonly score: Score;
  readonly plan: GuidePlan;
  readonly own: readonly OwnVoice[];
}

/** A guide for one part, or for all (`part` null). */
export interface Version {
  readonly name: string;
  readonly part: Part | null;
}

/** How the mock-up of a version sounds. */
export function soundSettings(version: Version, options: MakeGuideOptions): GuideSoundSettings {
  return {
    referenceHz: options.settings.referenceHz,
    temperament: options.temperament,
    tonic: options.tonic,
    partGainsDb: version.part === null ? {} : { [version.part.id]: options.ownDb },
    clickDb: options.clickDb,
    droneKey: options.droneKey,
  };
}

/** Writes the sound of a version in a format, or its video; whole or not at all. */
export async function writeSound(
  target: string,
  format: GuideFormat,
  piece: Piece,
  version: Version,
  options: MakeGuideOptions,
): Promise<void> {
  const { signal } = options;
  const onProgress = options.onStep(`Writing ${basename(target)}`);
  const { title } = piece.score;
  if (format === 'mp4') {
    // The sound takes a small part of the time, the picture the rest.
    const blocks = blocksOf(piece, version, options, () => undefined);
    await writeGuideVideo(target, blocks, piece.plan, { title, bitrateKbps: PHONE_KBPS, signal, onProgress });
    return;
  }
  const blocks = blocksOf(piece, version, options, onProgress);
  if (format === 'wav') {
    await writeWhole(target, (path) => writeMono(path, blocks), signal);
    return;
  }
  await encodeAudio({ kind: 'blocks', blocks, rateHz: SESSION_RATE_HZ, channels: 1 }, target, {
    format,
    bitrateKbps: PHONE_KBPS,
    tags: { title: `${title} (guide)` },
    signal,
  });
}

async function* blocksOf(
  { score, plan, own }: Piece,
  version: Version,
  options: MakeGuideOptions,
  onProgress: (fraction: number) => void,
): AsyncGenerator<Block> {
  const settings = soundSettings(version, options);
  const replaced = Object.fromEntries(own.map(({ partId }) => [partId, Number.NEGATIVE_INFINITY]));
  const sound = new GuideSound(score, plan, { ...settings, partGainsDb: { ...settings.partGainsDb, ...replaced } });
  const mix = own.length === 0 ? undefined : new OwnVoicesMix(own, plan, settings.partGainsDb);
  const samples = new Float32Array(BLOCK_FRAMES);
  try {
    for (let from = 0; from < plan.lengthFrames; from += BLOCK_FRAMES) {
      throwIfCancelled(options.signal);
      const block = samples.subarray(0, Math.min(BLOCK_FRAMES, plan.lengthFrames - from));
      sound.next(block);
      yield mix === undefined ? [block] : mix.process(block);
      onProgress(Math.min(1, (from + BLOCK_FRAMES) / plan.lengthFrames));
      // Lets Ctrl-C be heard between blocks.
      await new Promise((resolve) => setImmediate(resolve));
    }
    if (mix !== undefined) yield mix.flush();
  } finally {
    mix?.close();
  }
}
