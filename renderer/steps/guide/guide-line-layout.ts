import type { GuidePlan } from '../../../core/guide/guide-plan.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';

/** Shares of the width for what comes before the count-in, and after the music: long music would leave them no room. */
const OPENING_SHARE = 0.42;
const ENDING_SHARE = 0.16;
/** Room on both sides of a break in the scale, px. */
const BREAK_PX = 9;
/** Bar lines closer than that are left out, px. */
const LEAST_BAR_PX = 9;
const LEAST_NUMBER_PX = 34;

/** A stretch of the picture with its words; px. */
export interface Piece {
  readonly what: 'tone' | 'silence' | 'tuning' | 'countIn' | 'music';
  readonly from: number;
  readonly to: number;
  readonly words: string;
  readonly fromSec: number;
  readonly toSec: number;
}

/** Three soft beats and the clap. */
export interface CuePiece {
  readonly beats: readonly number[];
  readonly clap: number;
  readonly clapSec: number;
}

export interface GuideLineLayout {
  readonly pieces: readonly Piece[];
  readonly cues: readonly CuePiece[];
  /** Clicks of the count-in; bar ones are strong. */
  readonly clicks: readonly { readonly x: number; readonly isBar: boolean }[];
  readonly bars: readonly { readonly x: number; readonly number: number | null }[];
  /** Where the scale of time changes. */
  readonly breaks: readonly number[];
  readonly musicEnd: number;
  readonly end: number;
  readonly lengthSec: number;
}

/** Where everything of a guide is drawn between two edges, px. Time runs at three scales: opening, music, ending. */
export function layOutGuide(plan: GuidePlan, left: number, right: number): GuideLineLayout {
  const width = right - left;
  const ends = [0, plan.countInFrame, plan.musicEndFrame, plan.lengthFrames];
  const hasCountIn = plan.countInFrame < plan.musicFrame;
  const opened = left + OPENING_SHARE * width;
  const ending = right - ENDING_SHARE * width;
  const begins = [left, opened + BREAK_PX, ending + BREAK_PX];
  const stops = [opened - BREAK_PX, ending - BREAK_PX, right];
  const x = (frame: number): number => {
    const at = frame < ends[1]! ? 0 : frame <= ends[2]! ? 1 : 2;
    const share = (frame - ends[at]!) / Math.max(1, ends[at + 1]! - ends[at]!);
    return begins[at]! + share * (stops[at]! - begins[at]!);
  };
  const piece = (what: Piece['what'], from: number, to: number, words: string): Piece => ({
    what,
    from: x(from),
    to: x(to),
    words,
    fromSec: from / SESSION_RATE_HZ,
    toSec: to / SESSION_RATE_HZ,
  });
  const lasting = (plan.silence.toFrame - plan.silence.fromFrame) / SESSION_RATE_HZ;
  return {
    pieces: [
      ...plan.tones.map((tone) =>
        tone.what === 'tuning'
          ? piece('tuning', tone.fromFrame, tone.toFrame, `A, ${shortNumber(tone.hz)} Hz`)
          : piece('tone', tone.fromFrame, tone.toFrame, tone.what === 'end' ? 'end' : ''),
      ),
      piece('silence', plan.silence.fromFrame, plan.silence.toFrame, `silence ${shortNumber(lasting)} s`),
      ...(hasCountIn ? [piece('countIn', plan.countInFrame, plan.musicFrame, 'count-in')] : []),
      piece('music', plan.musicFrame, plan.musicEndFrame, `music, ${plan.bars.length} bars`),
    ],
    cues: plan.cues.map((cue) => ({
      beats: cue.beatFrames.map(x),
      clap: x(cue.clapFrame),
      clapSec: cue.clapFrame / SESSION_RATE_HZ,
    })),
    clicks: plan.clicks
      .filter((click) => click.countIn)
      .map((click) => ({ x: x(click.frame), isBar: click.kind === 'bar' })),
    bars: barsOf(plan, x),
    breaks: [opened, ending],
    musicEnd: x(plan.musicEndFrame),
    end: x(plan.lengthFrames),
    lengthSec: plan.lengthFrames / SESSION_RATE_HZ,
  };
}

function barsOf(plan: GuidePlan, x: (frame: number) => number): GuideLineLayout['bars'] {
  const { bars } = plan;
  if (bars.length === 0) return [];
  const px = (x(plan.musicEndFrame) - x(plan.musicFrame)) / bars.length;
  const every = niceStep(LEAST_BAR_PX / px);
  const numbered = niceStep(LEAST_NUMBER_PX / px);
  return bars
    .filter(({ number }, at) => at === 0 || (number - 1) % every === 0)
    .map(({ number, frame }, at) => ({
      x: x(frame),
      number: (at === 0 && number > 0) || (number > 1 && (number - 1) % numbered === 0) ? number : null,
    }));
}

/** The smallest of 1, 2, 4, 8, 16, 32 ... that is at least so large: phrases come in such lengths. */
function niceStep(least: number): number {
  let step = 1;
  while (step < least && step < 4096) step *= 2;
  return step;
}

function shortNumber(value: number): string {
  return String(Math.round(value * 10) / 10);
}
