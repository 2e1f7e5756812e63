import type { Sound } from '../signal/sound.ts';

/** What is compared, s. */
const TICK_SEC = 0.01;

/** The middle of the quietest hundredth of a second between two moments of a sound, s; the middle between them where they lie nearer. */
export function quietestMoment(sound: Sound, fromSec: number, toSec: number): number {
  const tick = Math.max(1, Math.round(TICK_SEC * sound.rateHz));
  const count = Math.floor(((toSec - fromSec) * sound.rateHz) / tick);
  if (count < 1) return 0.5 * (fromSec + toSec);
  const samples = new Float32Array(tick);
  const first = Math.round(fromSec * sound.rateHz);
  let least = Number.POSITIVE_INFINITY;
  let at = 0;
  for (let n = 0; n < count; n++) {
    sound.read(first + n * tick, samples);
    let power = 0;
    for (const sample of samples) power += sample * sample;
    if (power >= least) continue;
    least = power;
    at = n;
  }
  return (first + (at + 0.5) * tick) / sound.rateHz;
}
