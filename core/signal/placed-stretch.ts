import { type Clock, clockPieces } from './clock.ts';
import type { FrameReader, Interpolator } from './interpolator.ts';
import { makeInterpolator } from './resample.ts';

/** Nearer to a whole frame than this counts as whole (20 ps at 48 kHz: the rounding of seconds in double). */
const WHOLE_FRAME = 1e-6;
/** Two ends that lie nearer than this go on into one another, s. */
const SAME_SEC = 1e-9;

/** A stretch of a placed recording in which its clock runs evenly: session frame n is its frame start + n * step. */
export interface PlacedStretch {
  readonly start: number;
  readonly step: number;
  /** The recording's own frames that belong to it, with fractions; infinite at the outer ends. */
  readonly fromInput: number;
  readonly toInput: number;
  /** Session frames, with fractions, at which those sound. */
  readonly fromPlace: number;
  readonly toPlace: number;
  /** First session frame in which it is heard; negative infinity for the first one. */
  readonly heardFrom: number;
  /** Whether it goes on without a jump from the one before it. */
  readonly isContinuous: boolean;
  /** Absent where the samples are copied. */
  readonly interpolator: Interpolator | undefined;
}

/** The stretches of a recording of lengthFrames at rateHz on a time line of sessionRateHz, in order; one at least. */
export function stretchesOf(
  clock: Clock,
  rateHz: number,
  lengthFrames: number,
  sessionRateHz: number,
): readonly PlacedStretch[] {
  const pieces = clockPieces(clock);
  const lengthSec = lengthFrames / rateHz;
  const inside = pieces.filter(
    ({ fromTakeSec, toTakeSec }, n) =>
      pieces.length === 1 || ((toTakeSec > 0 || n === pieces.length - 1) && (fromTakeSec < lengthSec || n === 0)),
  );
  // Of pieces that overlap as a whole the later one is heard, as in takeSecOf.
  const heard = inside.filter(({ fromSec }, n) => inside.slice(n + 1).every((later) => later.fromSec > fromSec));
  const interpolators = new Map<number, Interpolator>();
  return heard.map((piece, n): PlacedStretch => {
    const ownRateHz = rateHz * piece.rate;
    const step = ownRateHz / sessionRateHz;
    const exact =
      piece === pieces[0] ? -clock.offsetSec * ownRateHz : piece.takeSec0 * rateHz - piece.sessionSec0 * ownRateHz;
    const whole = Math.round(exact);
    const start = Math.abs(exact - whole) < WHOLE_FRAME ? whole : exact;
    const before = heard[n - 1];
    const secOf = (takeSec: number, { takeSec0, sessionSec0, rate }: typeof piece): number =>
      sessionSec0 + (takeSec - takeSec0) / rate;
    const fromPlace = secOf(piece.fromTakeSec, piece) * sessionRateHz;
    const isContinuous =
      before !== undefined &&
      before.toTakeSec === piece.fromTakeSec &&
      Math.abs(secOf(before.toTakeSec, before) - secOf(piece.fromTakeSec, piece)) < SAME_SEC;
    const copies = step === 1 && start === whole;
    let interpolator = copies ? undefined : interpolators.get(step);
    if (!copies && interpolator === undefined) {
      interpolator = makeInterpolator(step);
      interpolators.set(step, interpolator);
    }
    return {
      start,
      step,
      fromInput: piece.fromTakeSec * rateHz,
      toInput: piece.toTakeSec * rateHz,
      fromPlace,
      toPlace: secOf(piece.toTakeSec, piece) * sessionRateHz,
      heardFrom: before === undefined ? Number.NEGATIVE_INFINITY : Math.ceil(piece.fromSec * sessionRateHz),
      isContinuous,
      interpolator,
    };
  });
}

/** Reads `count` session frames of a stretch, beyond its ends too. */
export function readStretch(
  stretch: PlacedStretch,
  input: FrameReader,
  fromFrame: number,
  target: Float32Array,
  at: number,
  count: number,
): void {
  if (stretch.interpolator !== undefined) {
    stretch.interpolator.run(input, stretch.start, fromFrame, target, at, count);
    return;
  }
  const whole = at === 0 && count === target.length;
  input.read(fromFrame + stretch.start, whole ? target : target.subarray(at, at + count));
}

/** Session frames on either side of a place that its interpolation looks at. */
export function reachOf({ interpolator, step }: PlacedStretch): number {
  return interpolator === undefined ? 0 : Math.ceil((interpolator.reachFrames + 2) / step);
}

/** The first session frame that lies at or after a place of the recording. */
export function firstIndexAt({ start, step }: PlacedStretch, inputFrame: number): number {
  let index = Math.ceil((inputFrame - start) / step);
  // Rounding of the division can miss by one either way.
  while (start + (index - 1) * step >= inputFrame) index--;
  while (start + index * step < inputFrame) index++;
  return index === 0 ? 0 : index;
}
