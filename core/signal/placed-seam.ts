import { evenCrossfade } from './even-crossfade.ts';
import { EDGE_FADE_SEC, GapBridge, LONGEST_BRIDGED_SEC } from './gap-bridge.ts';
import type { FrameReader } from './interpolator.ts';
import { type PlacedStretch, reachOf, readStretch } from './placed-stretch.ts';
import type { Sound } from './sound.ts';
import { LEARNT_FRAMES } from './sound-extension.ts';

/** Crossfades where a clock jumps, s. */
const LEAST_FADE_SEC = 0.005;
const LONGEST_FADE_SEC = 0.02;
/**
 * So much on either side of a cut is neither heard nor learnt from, s: coders smear a break. On 84 cuts in takes coded as AAC at
 * 128 kbit/s the bridged sound came 14 dB above its error with it, 8 dB without.
 */
const GUARD_SEC = 0.001;

/** Where a clock jumps: what is heard from `fromFrame` up to `toFrame`, session frames, is made of both sides. */
export interface Seam {
  readonly fromFrame: number;
  readonly toFrame: number;
  readonly fadeFrom: number;
  readonly fadeTo: number;
  /** The stretch that ends here, and the one that begins; one of them is absent on the edge of a silence. */
  readonly left: PlacedStretch | undefined;
  readonly right: PlacedStretch | undefined;
}

/** The seams between stretches, in order and apart. */
export function seamsOf(stretches: readonly PlacedStretch[], sessionRateHz: number): readonly Seam[] {
  const seams: Seam[] = [];
  for (const [n, right] of stretches.entries()) {
    const left = stretches[n - 1];
    if (left === undefined || right.isContinuous) continue;
    seams.push(...seamsBetween(left, right, sessionRateHz));
  }
  return seams.map((seam, n) => {
    const before = seams[n - 1];
    const after = seams[n + 1];
    // Jumps in quick succession share what lies between them.
    const low = before === undefined ? seam.fromFrame : Math.ceil((before.fadeTo + seam.fadeFrom) / 2);
    const high = after === undefined ? seam.toFrame : Math.ceil((seam.fadeTo + after.fadeFrom) / 2);
    const fromFrame = Math.max(seam.fromFrame, low);
    const toFrame = Math.max(fromFrame, Math.min(seam.toFrame, high));
    const fadeFrom = Math.min(toFrame, Math.max(fromFrame, seam.fadeFrom));
    return { ...seam, fromFrame, toFrame, fadeFrom, fadeTo: Math.max(fadeFrom, Math.min(toFrame, seam.fadeTo)) };
  });
}

function seamsBetween(left: PlacedStretch, right: PlacedStretch, rateHz: number): Seam[] {
  const guard = Math.ceil(GUARD_SEC * rateHz) + 1;
  const fromClean = Math.floor(left.toPlace) - guard - reachOf(left);
  const toClean = Math.ceil(right.fromPlace) + guard + reachOf(right);
  const gapSec = (right.fromPlace - left.toPlace) / rateHz;
  if (gapSec > LONGEST_BRIDGED_SEC) {
    const edge = Math.round(EDGE_FADE_SEC * rateHz);
    const out = Math.ceil(left.toPlace);
    const into = Math.floor(right.fromPlace);
    return [
      { left, right: undefined, fromFrame: fromClean, fadeFrom: out, fadeTo: out + edge, toFrame: out + edge },
      { left: undefined, right, fromFrame: into - edge, fadeFrom: into - edge, fadeTo: into, toFrame: toClean },
    ];
  }
  const longestSec = gapSec > 0 ? LONGEST_BRIDGED_SEC : LONGEST_FADE_SEC;
  const fadeSec = Math.max(LEAST_FADE_SEC, Math.min(longestSec, Math.abs(gapSec)));
  const fadeFrames = Math.round(fadeSec * rateHz);
  const middle = gapSec > 0 ? (left.toPlace + right.fromPlace) / 2 : right.heardFrom;
  const fadeFrom = Math.round(middle - fadeFrames / 2);
  const fadeTo = fadeFrom + fadeFrames;
  return [
    { left, right, fadeFrom, fadeTo, fromFrame: Math.min(fadeFrom, fromClean), toFrame: Math.max(fadeTo, toClean) },
  ];
}

/**
 * Makes the sound of seams. Each side goes on beyond its own end as it was (sound-extension.ts), the two are crossfaded with even
 * power for waves as alike as they are (Fink, Holters, Zölzer 2016). All its memory is taken at its beginning.
 */
export class SeamMaker {
  readonly #sound: Sound;
  readonly #bridge = new GapBridge();
  readonly #known = new Float32Array(LEARNT_FRAMES);
  readonly #left: Float32Array;
  readonly #right: Float32Array;
  readonly #edge: EdgeReader;

  constructor(sound: Sound, seams: readonly Seam[]) {
    this.#sound = sound;
    const longest = Math.max(...seams.map(({ fromFrame, toFrame }) => toFrame - fromFrame));
    this.#left = new Float32Array(longest);
    this.#right = new Float32Array(longest);
    const inputs = seams.flatMap(({ left, right, fromFrame, toFrame }) =>
      [left, right].map((side) =>
        side === undefined ? 0 : (toFrame - fromFrame) * side.step + 2 * (side.interpolator?.reachFrames ?? 0) + 8,
      ),
    );
    this.#edge = new EdgeReader(sound, Math.ceil(Math.max(...inputs)));
  }

  /** Fills `target`, which is as long as the seam. */
  make(seam: Seam, target: Float32Array): void {
    const { fromFrame, toFrame, fadeFrom, fadeTo, left, right } = seam;
    const frames = toFrame - fromFrame;
    this.#left.fill(0);
    this.#right.fill(0);
    if (left !== undefined) {
      this.#continue(left.toInput, true);
      readStretch(left, this.#edge, fromFrame, this.#left, 0, frames);
    }
    if (right !== undefined) {
      this.#continue(right.fromInput, false);
      readStretch(right, this.#edge, fromFrame, this.#right, 0, frames);
    }
    const whole = this.#left.length === frames;
    const before = whole ? this.#left : this.#left.subarray(0, frames);
    const after = whole ? this.#right : this.#right.subarray(0, frames);
    evenCrossfade(before, after, target, fadeFrom - fromFrame, fadeTo - fromFrame);
  }

  /** Lets the recording go on beyond a cut at an input frame: after it, or before it. */
  #continue(atInput: number, isAfter: boolean): void {
    const guard = Math.round(GUARD_SEC * this.#sound.rateHz);
    const cut = Math.max(0, Math.min(this.#sound.lengthFrames, Math.round(atInput) + (isAfter ? -guard : guard)));
    const edge = this.#edge;
    const some = isAfter ? Math.min(cut, LEARNT_FRAMES) : Math.min(this.#sound.lengthFrames - cut, LEARNT_FRAMES);
    const known = this.#known.subarray(0, Math.max(0, some));
    this.#sound.read(isAfter ? cut - known.length : cut, known);
    edge.set(cut, isAfter);
    if (isAfter) this.#bridge.extend(known, edge.made);
    else this.#bridge.extendBack(known, edge.made);
  }
}

/** A recording up to a cut (or from it on), and what was made beyond it. */
class EdgeReader implements FrameReader {
  readonly made: Float32Array;
  readonly #sound: Sound;
  #cut = 0;
  #isAfter = true;

  constructor(sound: Sound, frames: number) {
    this.#sound = sound;
    this.made = new Float32Array(frames);
  }

  set(cut: number, isAfter: boolean): void {
    this.#cut = cut;
    this.#isAfter = isAfter;
  }

  read(fromFrame: number, target: Float32Array): void {
    this.#sound.read(fromFrame, target);
    const { made } = this;
    const first = this.#isAfter ? this.#cut : this.#cut - made.length;
    const from = this.#isAfter ? Math.max(fromFrame, first) : fromFrame;
    const to = this.#isAfter ? fromFrame + target.length : Math.min(fromFrame + target.length, this.#cut);
    for (let frame = from; frame < to; frame++) {
      const at = frame - first;
      target[frame - fromFrame] = at >= 0 && at < made.length ? made[at]! : 0;
    }
  }
}
