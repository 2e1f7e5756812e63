import { SESSION_RATE_HZ } from '../signal/time.ts';
import type { GuideBar, GuideCue, GuidePlan } from './guide-plan.ts';

/** What a player sees at a moment of the guide. Its texts are plain words and figures. */
export interface GuideScene {
  readonly part: 'soon' | 'silence' | 'tuning' | 'cue' | 'ready' | 'countIn' | 'music' | 'still' | 'over';
  readonly heading: string;
  /** The countdown or the beat, in large type; '' for none. */
  readonly big: string;
  readonly foot: string;
  /** Beats of the bar or of the cue; `mark` is the clap. They fill one after the other and empty together. */
  readonly dots: readonly { readonly full: boolean; readonly mark: boolean }[];
  /** How far the part has come, 0 to 1. */
  readonly share: number;
}

/** Beats nearer than this are not counted in large type: nothing may flash more than three times a second (WCAG 2.2, 2.3.1). */
const QUICKEST_BEAT_SEC = 0.34;
/** The cue is shown this long before its first beat. */
const CUE_LEAD_SEC = 1;
const CLAP_SHOWN_SEC = 0.7;

/** What is to be seen at a frame of a guide. */
export function sceneAt(plan: GuidePlan, frame: number): GuideScene {
  const cue = plan.cues.find(
    (one) => frame >= one.beatFrames[0]! - CUE_LEAD_SEC * SESSION_RATE_HZ && frame < one.toFrame,
  );
  if (frame < plan.silence.fromFrame) {
    return countdown('soon', 'SILENCE COMES', 'BE STILL', 0, plan.silence.fromFrame, frame);
  }
  if (frame < plan.silence.toFrame) {
    return countdown(
      'silence',
      'SILENCE',
      'BE STILL UNTIL THE TONE',
      plan.silence.fromFrame,
      plan.silence.toFrame,
      frame,
    );
  }
  if (cue !== undefined) return cueScene(cue, frame);
  if (frame < plan.countInFrame) return openingScene(plan, frame);
  if (frame < plan.musicFrame) return countInScene(plan, frame);
  if (frame < plan.musicEndFrame) return musicScene(plan, frame);
  return endingScene(plan, frame);
}

function countdown(
  part: GuideScene['part'],
  heading: string,
  foot: string,
  fromFrame: number,
  toFrame: number,
  frame: number,
): GuideScene {
  const big = String(Math.max(1, Math.ceil((toFrame - frame) / SESSION_RATE_HZ)));
  return { part, heading, big, foot, dots: [], share: shareOf(fromFrame, toFrame, frame) };
}

function shareOf(fromFrame: number, toFrame: number, frame: number): number {
  return toFrame <= fromFrame ? 1 : Math.min(1, Math.max(0, (frame - fromFrame) / (toFrame - fromFrame)));
}

function openingScene(plan: GuidePlan, frame: number): GuideScene {
  const tone = plan.tones.find((one) => one.what === 'tuning' && frame < one.toFrame);
  const cueFrame = plan.cues.find((one) => one.at === 'start')?.beatFrames[0] ?? 0;
  if (tone !== undefined && frame >= tone.fromFrame) {
    const heading = `TUNE: A ${Number(tone.hz.toFixed(1))} HZ`;
    return countdown('tuning', heading, 'THEN CLAP AFTER THREE BEATS', tone.fromFrame, tone.toFrame, frame);
  }
  const isAfter = frame >= cueFrame;
  const fromFrame = isAfter ? cueFrame : plan.silence.toFrame;
  const share = shareOf(fromFrame, isAfter ? plan.countInFrame : cueFrame, frame);
  const foot = isAfter ? 'THE COUNT-IN COMES' : 'THE CLAP COMES';
  return { part: 'ready', heading: 'READY', big: '', foot, dots: [], share };
}

function cueScene(cue: GuideCue, frame: number): GuideScene {
  const beats = cue.beatFrames.filter((one) => one <= frame).length;
  const clapped = frame >= cue.clapFrame;
  const isNow = clapped && frame < cue.clapFrame + CLAP_SHOWN_SEC * SESSION_RATE_HZ;
  const dots = cue.beatFrames.map((_, n) => ({ full: n < beats, mark: false }));
  return {
    part: 'cue',
    heading: isNow ? 'NOW' : clapped ? 'STAY STILL' : 'CLAP AFTER THREE BEATS',
    big: isNow ? 'CLAP' : clapped || beats === 0 ? '' : String(beats),
    foot: cue.at === 'end' ? 'THE LAST CLAP' : '',
    dots: [...dots, { full: isNow, mark: true }],
    share: shareOf(cue.beatFrames[0]!, cue.clapFrame, frame),
  };
}

function countInScene(plan: GuidePlan, frame: number): GuideScene {
  const clicks = plan.clicks.filter((click) => click.countIn);
  const now = clicks.findLastIndex((click) => click.frame <= frame);
  const left = clicks.length - Math.max(0, now);
  const bar = clicks.findLastIndex((click, n) => n <= now && click.kind === 'bar');
  const next = clicks.findIndex((click, n) => n > now && click.kind === 'bar');
  const from = Math.max(0, bar);
  const size = (next < 0 ? clicks.length : next) - from;
  return {
    part: 'countIn',
    heading: 'COUNT-IN',
    big:
      now < 0 || isQuick(clicks[now]!.frame, clicks[now + 1]?.frame ?? plan.musicFrame) ? '' : String(now - from + 1),
    foot: `MUSIC IN ${left} ${left === 1 ? 'BEAT' : 'BEATS'}`,
    dots: Array.from({ length: size }, (_, n) => ({ full: from + n <= now, mark: false })),
    share: shareOf(plan.countInFrame, plan.musicFrame, frame),
  };
}

function musicScene(plan: GuidePlan, frame: number): GuideScene {
  const bar = barAt(plan.bars, frame);
  const beat = bar.beatFrames.findLastIndex((one) => one <= frame);
  const next = bar.beatFrames[beat + 1] ?? plan.bars[plan.bars.indexOf(bar) + 1]?.frame ?? plan.musicEndFrame;
  const isPickUp = bar.number === 0;
  // Of quick beats the bar is shown instead, which changes more slowly.
  const isTooQuick = isQuick(bar.beatFrames[Math.max(0, beat)] ?? bar.frame, next);
  return {
    part: 'music',
    heading: isPickUp ? 'PICK-UP' : isTooQuick ? 'BAR' : `BAR ${bar.number}`,
    big: isTooQuick ? String(bar.number) : beat < 0 ? '' : String(beat + 1),
    foot: `OF ${plan.bars.at(-1)!.number}`,
    dots: bar.beatFrames.slice(0, 16).map((one) => ({ full: one <= frame, mark: false })),
    share: shareOf(plan.musicFrame, plan.musicEndFrame, frame),
  };
}

function isQuick(fromFrame: number, toFrame: number): boolean {
  return toFrame - fromFrame < QUICKEST_BEAT_SEC * SESSION_RATE_HZ;
}

function barAt(bars: readonly GuideBar[], frame: number): GuideBar {
  let low = 0;
  let high = bars.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (bars[middle]!.frame <= frame) low = middle;
    else high = middle - 1;
  }
  return bars[low]!;
}

function endingScene(plan: GuidePlan, frame: number): GuideScene {
  const endTone = plan.tones.find((tone) => tone.what === 'end');
  const overFrame = endTone?.fromFrame ?? plan.lengthFrames;
  const cue = plan.cues.find((one) => one.at === 'end');
  if (frame >= overFrame)
    return { part: 'over', heading: 'THE END', big: '', foot: 'STOP THE PHONE', dots: [], share: 1 };
  const foot = cue !== undefined && frame < cue.clapFrame ? 'ONE MORE CLAP COMES' : 'LET IT RING';
  const share = shareOf(plan.musicEndFrame, overFrame, frame);
  return { part: 'still', heading: 'STAY STILL', big: '', foot, dots: [], share };
}
