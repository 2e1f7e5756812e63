import type { KeptPlan } from '../../core/session/kept-plan.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { clock } from '../parts/numbers.ts';
import type { Stretch } from './lane-scene.ts';
import type { Bar } from './ruler.ts';

/** A place in the piece as musicians name it. */
export interface BarPlace {
  /** 0 in a pick-up. */
  readonly bar: number;
  /** 1 the first of the bar. */
  readonly beat: number;
}

/** What the guide asks of the player before and after the music, session time. */
export interface GuideShade extends Stretch {
  readonly label: string;
  /** Where the clap belongs; null where none does. */
  readonly clapSec: number | null;
}

type Plan = Pick<KeptPlan, 'bars' | 'musicEndFrame'>;

const NO_BARS: readonly Bar[] = [];

/** Bars for the lanes; none where there is no guide that knows them. */
export function barsOf(plan: KeptPlan | null): readonly Bar[] {
  if (plan === null || plan.bars.length === 0) return NO_BARS;
  return plan.bars.map(({ number, frame, beatFrames }) => ({
    sec: frame / SESSION_RATE_HZ,
    label: number === 0 ? '' : String(number),
    beatsSec: beatFrames.slice(1).map((beat) => beat / SESSION_RATE_HZ),
  }));
}

/** Cues and count-in of a guide. */
export function guideShades(plan: KeptPlan): GuideShade[] {
  const sec = (frame: number): number => frame / SESSION_RATE_HZ;
  const cues = plan.cues.map((cue) => ({
    fromSec: sec(cue.beatFrames[0] ?? cue.clapFrame),
    toSec: sec(cue.toFrame),
    label: 'cue',
    clapSec: sec(cue.clapFrame),
  }));
  if (plan.countInFrame >= plan.musicFrame) return cues;
  const countIn = { fromSec: sec(plan.countInFrame), toSec: sec(plan.musicFrame), label: 'count-in', clapSec: null };
  return [...cues, countIn];
}

/** Bar and beat at a session time, s; null before the first bar and after the last. */
export function placeAt(plan: Plan, sec: number): BarPlace | null {
  // What is shown and clicked is rounded: half a frame decides nothing.
  const frame = sec * SESSION_RATE_HZ + 0.5;
  const { bars } = plan;
  if (bars.length === 0 || frame < bars[0]!.frame || frame >= plan.musicEndFrame) return null;
  let low = 0;
  let high = bars.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (bars[middle]!.frame <= frame) low = middle;
    else high = middle - 1;
  }
  const bar = bars[low]!;
  let beat = 1;
  while (beat < bar.beatFrames.length && bar.beatFrames[beat]! <= frame) beat++;
  return { bar: bar.number, beat };
}

/** Session time of a beat, s; null for one that the piece does not have. The last bar of a number counts the first time. */
export function secOf(plan: Plan, { bar, beat }: BarPlace): number | null {
  const frame = plan.bars.find(({ number }) => number === bar)?.beatFrames[beat - 1];
  return frame === undefined ? null : frame / SESSION_RATE_HZ;
}

/** "bar 17, beat 2"; "pick-up, beat 1". */
export function placeInWords({ bar, beat }: BarPlace): string {
  return `${bar === 0 ? 'pick-up' : `bar ${bar}`}, beat ${beat}`;
}

/** A moment as musicians and clocks name it: "bar 3, beat 1 (0:41.25)"; without bars, or outside of them, "0:41.25". */
export function momentInWords(plan: Plan | null, sec: number): string {
  const place = plan === null ? null : placeAt(plan, sec);
  return place === null ? clock(sec, 2) : `${placeInWords(place)} (${clock(sec, 2)})`;
}

/** A stretch as bars and beats: "bar 3, beat 1 to bar 5, beat 2"; '' where it lies outside of them. */
export function stretchInBars(plan: Plan, { fromSec, toSec }: Stretch): string {
  const from = placeAt(plan, fromSec);
  const to = placeAt(plan, toSec);
  const isEnd = Math.abs(toSec * SESSION_RATE_HZ - plan.musicEndFrame) < 1;
  if (from === null || (to === null && !isEnd)) return '';
  return `${placeInWords(from)} to ${to === null ? 'the end' : placeInWords(to)}`;
}

/**
 * How many bars there are from one that is shown to the next, so that they stand `leastPx` apart: 1, 2, 4, 8 and so on, since
 * phrases have such lengths. barPx: how wide a bar is as a rule.
 */
export function barStep(barPx: number, leastPx: number): number {
  let step = 1;
  while (step * barPx < leastPx && step < 65_536) step *= 2;
  return step;
}

/** The usual width of a bar, px: that of the middle one by length, so that a long pause at the end tells nothing. */
export function usualBarSec(bars: readonly Bar[]): number {
  if (bars.length < 2) return 2;
  const lengths = bars.slice(1).map((bar, at) => bar.sec - bars[at]!.sec);
  lengths.sort((a, b) => a - b);
  return Math.max(1e-3, lengths[lengths.length >> 1]!);
}
