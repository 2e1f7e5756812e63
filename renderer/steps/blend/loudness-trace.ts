/** How loudness is kept for the picture of the last half minute. */
export const TRACE_SEC = 30;
const KEPT = TRACE_SEC * 20;

/** The last half minute of loudness, in a ring; one reading per 50 ms of what is heard. */
export class LoudnessTrace {
  readonly #momentary = new Float32Array(KEPT).fill(Number.NEGATIVE_INFINITY);
  readonly #shortTerm = new Float32Array(KEPT).fill(Number.NEGATIVE_INFINITY);
  #at = 0;

  /** LUFS; -Infinity in silence. */
  add(momentaryLufs: number, shortTermLufs: number): void {
    this.#momentary[this.#at] = momentaryLufs;
    this.#shortTerm[this.#at] = shortTermLufs;
    this.#at = (this.#at + 1) % KEPT;
  }

  /** Calls with each reading from the oldest to the newest; `share` runs from 0 to 1. */
  forEach(visit: (share: number, momentaryLufs: number, shortTermLufs: number) => void): void {
    for (let n = 0; n < KEPT; n++) {
      const at = (this.#at + n) % KEPT;
      visit(n / (KEPT - 1), this.#momentary[at]!, this.#shortTerm[at]!);
    }
  }
}

/** The five lines the loudness is written on, LUFS: 6 LU apart, the target on the second from the top. */
export function staffLines(targetLufs: number): readonly number[] {
  return [1, 0, -1, -2, -3].map((step) => targetLufs + 6 * step);
}

/** How a loudness stands to the target, in words. */
export function againstTarget(lufs: number, targetLufs: number): string {
  if (!Number.isFinite(lufs)) return 'silent';
  const apart = lufs - targetLufs;
  if (Math.abs(apart) < 1) return 'at the target';
  return `${Math.abs(apart).toFixed(0)} LU ${apart > 0 ? 'above' : 'below'} target`;
}

/** What the limiter does, in words. */
export function limiterWords(workDb: number): string {
  if (workDb < 0.1) return 'at rest';
  if (workDb < 3) return 'catches tops of waves';
  if (workDb < 6) return 'works hard: the mix is pressed';
  return 'works very hard: lower the target';
}

/** A falling peak: the larger of the new one and the old one, let down by 12 dB a second. Linear. */
export function heldPeak(held: number, now: number, passedSec: number): number {
  return Math.max(now, held * 10 ** ((-12 * passedSec) / 20));
}
