import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { Sound } from '../signal/sound.ts';
import { LoudnessMeter, type LoudnessOptions, type LoudnessReport } from './loudness.ts';

const READ_FRAMES = 16384;

/**
 * Measures one mono Sound from end to end, without holding it in memory.
 *
 * It counts as one channel of weight 1, as a mono file does. The same samples on both sides of a stereo mix read 3.01 LU
 * higher; placed in the middle at equal power (-3.01 dB a side) they read the same as here.
 * In: a sound of 8000 to 192000 Hz. Only reads. See LoudnessReport for the figures and their limits.
 */
export function measureLoudness(
  sound: Sound,
  options: Omit<LoudnessOptions, 'rateHz' | 'channels' | 'weights'> = {},
  cancel?: Cancel,
): LoudnessReport {
  const meter = new LoudnessMeter({ ...options, rateHz: sound.rateHz, channels: 1 });
  const buffer = new Float32Array(READ_FRAMES);
  for (let from = 0; from < sound.lengthFrames; from += READ_FRAMES) {
    throwIfCancelled(cancel);
    const frames = buffer.subarray(0, Math.min(READ_FRAMES, sound.lengthFrames - from));
    sound.read(from, frames);
    meter.add([frames]);
  }
  return meter.result();
}

/** Gated integrated loudness of a mono Sound, LUFS; -Infinity for silence. Counted as in measureLoudness. */
export function gatedLoudnessLufs(sound: Sound, cancel?: Cancel): number {
  return measureLoudness(sound, { truePeak: 'off' }, cancel).integratedLufs;
}
