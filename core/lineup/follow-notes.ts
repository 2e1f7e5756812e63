import type { Sound } from '../signal/sound.ts';
import { type JumpDoubt, sharedDoubt } from './clock-doubt.ts';
import { jumpByNotes, type UnbrokenJump } from './jump-by-notes.ts';
import { type JumpWitnesses, jumpOdds, type PlaceOdds, sureJump, type WaveBreak } from './jump-odds.ts';
import { type Line, sessionSecOn, takeSecOn } from './line.ts';
import { STRETCH_SEC } from './onset-sums.ts';
import { quietestMoment } from './quiet-moment.ts';
import { indexAfter, type Lateness, StepTest } from './step-test.ts';
import type { TwoTimes, WaveBreaks } from './wave-breaks.ts';

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

/** What notes and wave say of a clock's jumps. */
export interface NoteJumps {
  /** In order of time. */
  readonly jumps: readonly NoteStep[];
  /** Where it may jump although that is not sure. */
  readonly doubts: readonly JumpDoubt[];
}

const MOST_STEPS = 4;
/** From this probability on notes and a break of the wave make a jump sure where players' notes are compared, or notes in stretches. */
const SURE = 0.7;
/**
 * Beside notes that are steady, as a guide's are, mending at a break errs less than leaving as soon as a jump is likelier than none. Without jumps
 * 0.26 at most was measured (186 takes of sampled notes); of 282 with one, none that was told with more than 0.2 was another than the true
 * one: its place was right to 2 s, and its size to 6 ms but for one take (16 ms).
 */
const SURE_BESIDE_GUIDE = 0.5;
const BREAK_ERROR_SEC = 0.001;

/** How the notes were compared, and what is made of it. */
export interface NotesAsked {
  /** Probability asked for at a break of the wave. */
  readonly least?: number;
  /** Whether notes were compared one by one, not in stretches. */
  readonly isNoteByNote?: boolean;
  /** The take, where notes were compared one by one and with what is steady, as a guide is: then they may tell a jump alone. */
  readonly alone?: Sound;
}

/**
 * The jumps of a take's clock that its notes show by being late or early all together from there on.
 *
 * A player strays by as much as a lost buffer is long, so that notes compared in stretches of seconds show no jump of 20 ms, but
 * where the wave itself breaks (see `soundBreaks`) notes that step there as well make it sure. Compared one by one they may be sure of it
 * alone (see `jumpByNotes`). even: the line without drift that the lateness is against.
 */
export function stepsInNotes(
  along: readonly Lateness[],
  even: Line,
  waves: WaveBreaks,
  {
    alone,
    least = alone === undefined ? SURE : SURE_BESIDE_GUIDE,
    isNoteByNote = alone !== undefined,
  }: NotesAsked = {},
): NoteJumps {
  if (along.length === 0) return { jumps: [], doubts: [] };
  const clock = {
    takeSecOf: (sec: number): number => takeSecOn(even, sec),
    sessionSecOf: (sec: number): number => sessionSecOn(even, sec),
  };
  const fromSec = along[0]!.atSec - 0.5 * STRETCH_SEC;
  const toSec = along.at(-1)!.atSec + 0.5 * STRETCH_SEC;
  const steps: Step[] = [];
  let odds: PlaceOdds[] = [];
  const known = (but?: Step): number[] => steps.filter((one) => one !== but).map((one) => one.atSec);
  const ask = (but?: Step): PlaceOdds[] => {
    const notes = new StepTest(along, known(but));
    const witnesses: JumpWitnesses = { fromSec, toSec, notes, isNoteByNote };
    if (but === undefined) waves.lookAbout(jumpOdds(witnesses), clock, fromSec, toSec);
    // Before the first notes and after the last a jump moves nothing that is heard, and nobody could speak against it.
    const breaks = waves.on(clock).filter(({ atSec }) => !known(but).includes(atSec) && notes.at(atSec) !== undefined);
    return jumpOdds({ ...witnesses, breaks, isScanned: (sec) => waves.isScanned(clock.takeSecOf(sec)) });
  };
  for (;;) {
    odds = ask();
    if (steps.length === MOST_STEPS) break;
    const broken = sureJump(odds, least);
    const unbroken = broken === undefined && alone !== undefined ? jumpByNotes(odds) : undefined;
    if (broken !== undefined) steps.push({ ...broken, takeSec: broken.wave!.takeSec, withinSec: BREAK_ERROR_SEC });
    else if (unbroken !== undefined) steps.push(placed(unbroken, clock, alone!));
    else break;
  }
  // Each once more, the others known.
  const final = steps.map((step) => {
    if (step.wave === undefined) return step;
    const again = ask(step).find((one) => one.atSec === step.atSec && one.wave !== undefined);
    return again === undefined ? step : { ...step, offSec: again.offSec, offErrorSec: again.offErrorSec };
  });
  return {
    jumps: final.map((one) => asStep(along, one)).sort((a, b) => a.takeSec - b.takeSec),
    doubts: [...odds.map(asDoubt), ...final.map(doubtLeft)].flatMap((doubt) =>
      sharedDoubt(doubt, shareBefore(along, doubt.atSec)),
    ),
  };
}

/** A jump taken for sure, at a break of the wave or without one. */
type Step = Pick<PlaceOdds, 'atSec' | 'likely' | 'offSec' | 'offErrorSec'> &
  Pick<NoteStep, 'takeSec' | 'withinSec'> & { readonly wave?: WaveBreak | undefined };

/** Where nothing breaks the jump is laid to the quietest moment of those at which it may be. */
function placed({ fromSec, toSec, ...rest }: UnbrokenJump, clock: TwoTimes, sound: Sound): Step {
  const [from, to] = [clock.takeSecOf(fromSec), clock.takeSecOf(toSec)];
  const takeSec = quietestMoment(sound, from, to);
  return { ...rest, takeSec, atSec: clock.sessionSecOf(takeSec), withinSec: Math.max(takeSec - from, to - takeSec) };
}

type Doubt = Parameters<typeof sharedDoubt>[0];

function asDoubt({ atSec, likely, offRmsSec, wave }: PlaceOdds): Doubt {
  return { atSec, likely, jumpSec: offRmsSec, by: wave === undefined ? 'notes' : 'wave' };
}

/** What a jump that was taken for sure leaves in doubt: its size, and that it may be none after all. */
function doubtLeft({ atSec, likely, offSec, offErrorSec }: Step): Doubt {
  const jumpSec = Math.sqrt(likely * offErrorSec ** 2 + (1 - likely) * offSec ** 2);
  return { atSec, likely: 1, jumpSec, by: 'mended' };
}

/** How much of what the notes say lies before a session time, 0 to 1. */
function shareBefore(along: readonly Lateness[], atSec: number): number {
  const weigh = (some: readonly Lateness[]): number => some.reduce((sum, one) => sum + one.weight, 0);
  return weigh(along.filter((one) => one.atSec < atSec)) / Math.max(weigh(along), 1e-9);
}

function asStep(along: readonly Lateness[], { atSec, wave, takeSec, withinSec, offSec, offErrorSec }: Step): NoteStep {
  const at = indexAfter(along, atSec);
  return { at, takeSec, withinSec, isBreak: wave !== undefined, stepSec: offSec, stepErrorSec: offErrorSec };
}
