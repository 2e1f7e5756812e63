import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { Sound } from '../signal/sound.ts';
import type { Stretch } from './learn.ts';
import { type Silence, SilenceFinder, type SilenceSearch } from './silence-finder.ts';

const BLOCK = 16384;
/** Share of the silence found that must lie where one is expected for the two to be the same. */
const LEAST_SHARE = 0.5;
/** A silence where one is expected may be this much louder than the quietest of the take, dB: rooms vary that much. */
const LOUDER_DB = 6;

/** Whether the best silence that was found is the one expected (frames of the take). */
export function isExpected(search: SilenceSearch, expected: Stretch): boolean {
  if (search.kind !== 'found') return false;
  const { fromFrame, toFrame } = search.silences[0]!;
  const shared = Math.min(toFrame, expected.toFrame) - Math.max(fromFrame, expected.fromFrame);
  return shared >= LEAST_SHARE * Math.min(toFrame - fromFrame, expected.toFrame - expected.fromFrame);
}

/**
 * The silence within a stretch in which one is expected: long, low and steady as SilenceFinder asks, and not much louder
 * than the quietest of the take. Undefined where there is none, as when the player was not still. Reads the stretch alone.
 */
export function silenceWithin(
  sound: Sound,
  expected: Stretch,
  search: SilenceSearch,
  cancel?: Cancel,
): Silence | undefined {
  const fromFrame = Math.max(0, expected.fromFrame);
  const toFrame = Math.min(sound.lengthFrames, expected.toFrame);
  if (toFrame <= fromFrame) return undefined;
  const finder = new SilenceFinder(sound.rateHz);
  const block = new Float32Array(BLOCK);
  for (let at = fromFrame; at < toFrame; at += BLOCK) {
    throwIfCancelled(cancel);
    const part = block.subarray(0, Math.min(BLOCK, toFrame - at));
    sound.read(at, part);
    finder.add([part]);
  }
  const found = finder.result();
  if (found.kind !== 'found') return undefined;
  const best = found.silences[0]!;
  if (search.kind === 'found' && best.levelDbfs > search.levelDbfs + LOUDER_DB) return undefined;
  return { ...best, fromFrame: best.fromFrame + fromFrame, toFrame: best.toFrame + fromFrame };
}
