import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { GuidePicture, PICTURE_HEIGHT, PICTURE_WIDTH } from '../../core/guide/guide-picture.ts';
import type { GuidePlan } from '../../core/guide/guide-plan.ts';
import { sceneAt } from '../../core/guide/guide-scene.ts';
import type { Block } from '../../core/signal/block.ts';
import { throwIfCancelled } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { encodeVideo } from '../media/encode-video.ts';
import { WaveFileWriter } from '../work/wave-file.ts';
import { workFault } from './work-fault.ts';

export const PICTURES_PER_SEC = 25;

export interface GuideVideoOptions {
  readonly title: string;
  readonly bitrateKbps: number;
  readonly signal: AbortSignal;
  /** 0 to 1, of the pictures. */
  readonly onProgress: (fraction: number) => void;
}

/**
 * Writes a guide as a video: bars, beat, cue and countdowns in large type, in step with the sound. What is seen changes at
 * the picture nearest to its frame, 20 ms off at most. Throws as `encodeVideo` does.
 */
export async function writeGuideVideo(
  target: string,
  blocks: AsyncIterable<Block>,
  plan: GuidePlan,
  options: GuideVideoOptions,
): Promise<void> {
  const scratch = await mkdtemp(join(tmpdir(), 'partsong-'));
  try {
    const soundPath = join(scratch, 'guide.wav');
    await writeMono(soundPath, blocks);
    const pictures = picturesOf(plan, options);
    const source = { pictures, width: PICTURE_WIDTH, height: PICTURE_HEIGHT, picturesPerSec: PICTURES_PER_SEC };
    const { title, bitrateKbps, signal } = options;
    await encodeVideo(source, soundPath, target, { bitrateKbps, signal, tags: { title: `${title} (guide)` } });
  } catch (error) {
    throw workFault(error, scratch);
  } finally {
    await rm(scratch, { recursive: true, force: true });
  }
}

/** Writes mono blocks as 24 bit WAVE; the place is the caller's. */
export async function writeMono(path: string, blocks: AsyncIterable<Block>): Promise<void> {
  const writer = new WaveFileWriter(path, { format: 'pcm24', channels: 1, rateHz: SESSION_RATE_HZ });
  try {
    for await (const block of blocks) writer.write(block);
  } catch (error) {
    writer.abandon();
    throw error;
  }
  writer.finish();
}

/** The pictures of a guide; one that shows the same as the one before is the same bytes. */
export function* picturesOf(
  plan: GuidePlan,
  { title, signal, onProgress }: Pick<GuideVideoOptions, 'title' | 'signal' | 'onProgress'>,
): Generator<Uint8Array> {
  const picture = new GuidePicture(title);
  const count = Math.ceil((plan.lengthFrames / SESSION_RATE_HZ) * PICTURES_PER_SEC);
  const framesEach = SESSION_RATE_HZ / PICTURES_PER_SEC;
  let last: { readonly name: string; readonly bytes: Uint8Array } | undefined;
  for (let n = 0; n < count; n++) {
    throwIfCancelled(signal);
    // Half a picture ahead: what happens between two pictures is shown by the nearer one.
    const scene = sceneAt(plan, Math.round((n + 0.5) * framesEach));
    const name = GuidePicture.nameOf(scene);
    if (last?.name !== name) last = { name, bytes: picture.draw(scene) };
    yield last.bytes;
    if (n % PICTURES_PER_SEC === 0) onProgress(n / count);
  }
}
