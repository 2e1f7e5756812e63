import { BiquadCascade, designBiquad } from '../signal/biquad.ts';
import type { Sound } from '../signal/sound.ts';

/** Listened to after the clap, s, unless something else sounds before. */
const LISTEN_SEC = 1.6;
/** The band of speech and most notes' partials, where a room's length of echo is usually told. */
const FROM_HZ = 700;
/** The direct sound and the first reflections are over, s. */
const DIRECT_SEC = 0.01;
/** The decay is read between these, dB below its beginning. Source: ISO 3382-1, T20 (from memory). */
const FROM_DB = -5;
const TO_DB = -25;
/** With more noise, this much is enough: three fifths of a T15. */
const SHORT_TO_DB = -17;

/**
 * Reverberation time of the room as the clap tells it, s (time to fall by 60 dB), by backward integration of its decay above
 * 700 Hz. Source: Schroeder 1965; T20 of ISO 3382-1, without its measuring setup, hence an estimate. Undefined where the clap
 * does not stand out enough over the noise, or something else sounds too soon after it.
 * clapSec: the attack; untilSec: where the next sound begins; noisePower: mean square of the room in that band, per sample.
 */
export function echoOfClap(
  sound: Sound,
  clapSec: number,
  untilSec: number,
  silence: { fromFrame: number; toFrame: number },
): number | undefined {
  const rate = sound.rateHz;
  const first = Math.round((clapSec + DIRECT_SEC) * rate);
  const length = Math.round(Math.min(LISTEN_SEC, untilSec - clapSec - DIRECT_SEC) * rate);
  if (length < 0.15 * rate) return undefined;
  const band = new BiquadCascade([designBiquad({ kind: 'highPass', hz: FROM_HZ, q: Math.SQRT1_2 }, rate)]);
  const samples = new Float32Array(length);
  sound.read(first, samples);
  band.process(samples);
  const noise = noisePower(sound, silence);
  // From where on the decay is in the noise: mean power over 20 ms within 3 dB of it.
  const hop = Math.round(0.02 * rate);
  let end = 0;
  while (end + hop <= length && energyOf(samples, end, end + hop) / hop >= 2 * noise) end += hop;
  if (end + hop > length) end = length;
  const energy = new Float64Array(Math.floor(end / hop) + 1);
  let left = 0;
  for (let at = energy.length - 1; at >= 0; at--) {
    left = withEnergy(left, samples, at * hop, Math.min(end, (at + 1) * hop), noise);
    energy[at] = Math.max(left, 0);
  }
  return slopeTime(energy, hop / rate, TO_DB) ?? slopeTime(energy, hop / rate, SHORT_TO_DB);
}

function noisePower(sound: Sound, silence: { fromFrame: number; toFrame: number }): number {
  const samples = new Float32Array(Math.max(1, Math.min(silence.toFrame - silence.fromFrame, 2 * sound.rateHz)));
  sound.read(silence.fromFrame, samples);
  new BiquadCascade([designBiquad({ kind: 'highPass', hz: FROM_HZ, q: Math.SQRT1_2 }, sound.rateHz)]).process(samples);
  return energyOf(samples, 0, samples.length) / samples.length;
}

function energyOf(samples: Float32Array, from: number, to: number): number {
  return withEnergy(0, samples, from, to, 0);
}

/** A sum with the squares from one sample to another, each less the noise. */
function withEnergy(sum: number, samples: Float32Array, from: number, to: number, noise: number): number {
  let all = sum;
  for (let n = from; n < to; n++) all += samples[n]! * samples[n]! - noise;
  return all;
}

/** Straight line through the decay between -5 dB and `toDb`; time for 60 dB. */
function slopeTime(energy: Float64Array, stepSec: number, toDb: number): number | undefined {
  const levels = Array.from(energy, (one) => 10 * Math.log10(one / energy[0]! + 1e-12));
  const from = levels.findIndex((level) => level <= FROM_DB);
  const to = levels.findIndex((level) => level <= toDb);
  // The last steps of an integral that was cut off fall too fast.
  if (from < 0 || to < 0 || to > levels.length - 2 || to - from < 2) return undefined;
  const count = to - from + 1;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let sxy = 0;
  for (let at = from; at <= to; at++) {
    const x = at * stepSec;
    sx += x;
    sy += levels[at]!;
    sxx += x * x;
    sxy += x * levels[at]!;
  }
  const slope = (count * sxy - sx * sy) / (count * sxx - sx * sx);
  return slope < 0 ? -60 / slope : undefined;
}
