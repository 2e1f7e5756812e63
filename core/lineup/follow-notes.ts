import type { Sound } from '../signal/sound.ts';
import { type Line, sessionSecOn, takeSecOn } from './line.ts';
import { soundBreaks } from './sound-break.ts';
import { indexAfter, type Lateness, likeliestStep, type StepFound, stepAt } from './step-test.ts';

/** A jump of a take's clock that its notes show. */
export interface NoteStep {
  /** Index of the first stretch after it. */
  readonly at: number;
  /** The take's own time, s. */
  readonly takeSec: number;
  /** How far it may lie from there, s. */
  readonly withinSec: number;
  /** By how much the take's time steps, s: negative where sound was lost. */
  readonly stepSec: number;
  readonly stepErrorSec: number;
  /** Whether the sound itself breaks there. */
  readonly isBreak: boolean;
}

const MOST_STEPS = 4;
/**
 * What notes alone must say for a jump, nepers, and how large it must be, s: measured on 30 takes and 60 invented ones
 * without jumps, chance gives up to 6.2.
 */
const SURE_GAIN = 10;
const SURE_STEP_SEC = 0.012;
/** The same where the wave breaks at that place. */
const BREAK_GAIN = 4.5;
const BREAK_STEP_SEC = 0.008;
/** Breaks are looked for this far around the middles of the stretches on both sides, s, at so many places at most. */
const MARGIN_SEC = 2;
const MOST_PLACES = 4;
const BREAK_ERROR_SEC = 0.001;

/**
 * The jumps of a take's clock that its notes show by being late or early all together from there on.
 *
 * A player strays by as much as a lost buffer is long, so that notes alone show a jump of 20 ms only of a steady player, and
 * to some seconds; where the wave itself breaks at such a place (see `soundBreaks`) less is asked of them, and the place
 * is exact. even: the line without drift that the lateness is against.
 */
export function stepsInNotes(along: readonly Lateness[], even: Line, take: Sound): NoteStep[] {
  const steps: NoteStep[] = [];
  while (steps.length < MOST_STEPS) {
    const known = steps.map((step) => step.at);
    const found = likeliestStep(along, known);
    if (found === undefined) break;
    const step = atBreak(along, even, take, found, known) ?? byNotesAlone(along, even, found);
    if (step === undefined || known.includes(step.at)) break;
    steps.push(step);
  }
  steps.sort((a, b) => a.at - b.at);
  return steps.map((step) => {
    const others = steps.filter((other) => other !== step).map((other) => other.at);
    const { stepSec, stepErrorSec } = stepAt(along, step.at, others) ?? step;
    return { ...step, stepSec, stepErrorSec };
  });
}

function atBreak(
  along: readonly Lateness[],
  even: Line,
  take: Sound,
  found: StepFound,
  known: readonly number[],
): NoteStep | undefined {
  const places = [...found.gains.keys()]
    .filter((at) => found.gains[at]! >= BREAK_GAIN)
    .sort((a, b) => found.gains[b]! - found.gains[a]!)
    .slice(0, MOST_PLACES);
  const breaks = places.flatMap((at) => {
    const from = takeSecOn(even, along[at - 1]!.atSec) - MARGIN_SEC;
    return soundBreaks(take, from, takeSecOn(even, along[at]!.atSec) + MARGIN_SEC);
  });
  const distinct = new Map(breaks.map((one) => [Math.round(one.atSec * 100), one]));
  // Of many breaks, as keys make them, one lies near by chance.
  const asked = BREAK_GAIN + Math.log(Math.max(1, distinct.size));
  let best: NoteStep | undefined;
  let most = Number.NEGATIVE_INFINITY;
  for (const { atSec: takeSec, ratio } of distinct.values()) {
    const at = indexAfter(along, sessionSecOn(even, takeSec));
    const step = known.includes(at) ? undefined : stepAt(along, at, known);
    if (step === undefined || step.gain < asked || Math.abs(step.stepSec) < BREAK_STEP_SEC) continue;
    const score = step.gain + Math.log(ratio);
    if (score <= most) continue;
    most = score;
    best = { ...step, takeSec, withinSec: BREAK_ERROR_SEC, isBreak: true };
  }
  return best;
}

function byNotesAlone(along: readonly Lateness[], even: Line, found: StepFound): NoteStep | undefined {
  if (found.gain < SURE_GAIN || Math.abs(found.stepSec) < SURE_STEP_SEC) return undefined;
  const border = (at: number): number => 0.5 * (along[at - 1]!.atSec + along[at]!.atSec);
  const alike = [...found.gains.keys()].filter((at) => at > 0 && found.gains[at]! > found.gain - 2);
  const atSec = border(found.at);
  const withinSec = Math.max(...alike.map((at) => Math.abs(border(at) - atSec))) + 2;
  const { at, stepSec, stepErrorSec } = found;
  return { at, stepSec, stepErrorSec, takeSec: takeSecOn(even, atSec), withinSec, isBreak: false };
}
