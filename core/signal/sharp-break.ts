import type { Bend, Clock } from './clock.ts';
import type { Sound } from './sound.ts';
import { ExtensionScratch, fitByBurg, LEARNT_FRAMES } from './sound-extension.ts';

/** A break is looked for this far around the place that is told, frames (20 ms at 48 kHz). */
const REACH_FRAMES = 960;
/** Coefficients of the prediction: enough for the colour of any sound, too few for its tones' exact phases to need long fits. */
const ORDER = 32;
/** A break sticks out of the prediction's usual error by this factor, as hardly an attack does; beside the place told by less. */
const LEAST_HEIGHT = 6;
const BESIDE_HEIGHT = 4;
/** Below this share of the sound an error is no break but rounding (-50 dB). */
const LEAST_SHARE = 0.003;
const BESIDE_REACH_FRAMES = 96;
/** Errors near a break that are not counted as usual. */
const AROUND_FRAMES = ORDER + 8;
const USUAL_FRAMES = 400;

/**
 * A clock whose jumps lie at the very frame where the recording breaks, where that shows within 20 ms of the place told: there
 * the sound cannot be foretold from what came before it (Godsill and Rayner, Digital Audio Restoration, 1998, section 5.3).
 * What lies away from a jump keeps its place. The same clock where none is moved.
 */
export function sharpened(clock: Clock, sound: Sound): Clock {
  const { bends } = clock;
  if (bends === undefined || bends.every(({ jumpSec }) => jumpSec === 0)) return clock;
  const finder = new BreakFinder(sound);
  let rate = 1 + clock.driftPpm * 1e-6;
  const made = bends.map((bend, n): Bend => {
    const before = rate;
    rate = 1 + bend.driftPpm * 1e-6;
    const frame = bend.jumpSec === 0 ? undefined : finder.find(bend.takeSec * sound.rateHz);
    if (frame === undefined) return bend;
    const takeSec = frame / sound.rateHz;
    const low = bends[n - 1]?.takeSec ?? Number.NEGATIVE_INFINITY;
    if (takeSec <= low || takeSec >= (bends[n + 1]?.takeSec ?? Number.POSITIVE_INFINITY)) return bend;
    const bySec = takeSec - bend.takeSec;
    return { ...bend, takeSec, jumpSec: bend.jumpSec + bySec / rate - bySec / before };
  });
  return { ...clock, bends: made };
}

class BreakFinder {
  readonly #sound: Sound;
  readonly #scratch = new ExtensionScratch();
  readonly #samples = new Float32Array(LEARNT_FRAMES);

  constructor(sound: Sound) {
    this.#sound = sound;
  }

  /** The first frame after the break; undefined where there is none to be seen. */
  find(nearFrame: number): number | undefined {
    const samples = this.#samples;
    const { history, forward } = this.#scratch;
    const from = Math.round(nearFrame) - LEARNT_FRAMES / 2;
    if (from < 0 || from + samples.length > this.#sound.lengthFrames) return undefined;
    this.#sound.read(from, samples);
    let power = 0;
    for (let n = 0; n < samples.length; n++) {
      history[n] = samples[n]!;
      power += samples[n]! ** 2;
    }
    const least = LEAST_SHARE * Math.sqrt(power / samples.length);
    fitByBurg(samples.length, ORDER, this.#scratch);
    const far = tallest(forward, REACH_FRAMES, least);
    const near = tallest(forward, BESIDE_REACH_FRAMES, least);
    if (far.height > LEAST_HEIGHT && far.height > 2 * near.height) return from + far.at;
    return near.height > BESIDE_HEIGHT ? from + near.at : far.height > LEAST_HEIGHT ? from + far.at : undefined;
  }
}

/** The error that sticks out most around the middle: where it begins, and its size beside the usual one. */
function tallest(errors: Float64Array, reach: number, least: number): { at: number; height: number } {
  const first = errors.length / 2 - reach;
  let at = first;
  for (let n = first; n < first + 2 * reach; n++) if (Math.abs(errors[n]!) > Math.abs(errors[at]!)) at = n;
  const size = Math.abs(errors[at]!);
  // The frames that follow a break are foretold badly too, sometimes worse.
  for (let n = Math.max(first, at - ORDER); n < at; n++) {
    if (Math.abs(errors[n]!) < size / 2) continue;
    at = n;
    break;
  }
  const usual = Math.max(
    usualSize(errors, at - AROUND_FRAMES - USUAL_FRAMES, at - AROUND_FRAMES),
    usualSize(errors, at + AROUND_FRAMES, at + AROUND_FRAMES + USUAL_FRAMES),
  );
  return { at, height: usual === 0 || size < least ? 0 : size / usual };
}

/** Standard deviation of most of some numbers, which a few large ones do not move. */
function usualSize(values: Float64Array, from: number, to: number): number {
  const sizes = values.slice(from, to).map(Math.abs).sort();
  return sizes[sizes.length >> 1]! / 0.6745;
}
