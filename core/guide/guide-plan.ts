import { assertInRange } from '../signal/fault.ts';
import { SESSION_RATE_HZ, secondsToFrames } from '../signal/time.ts';
import { type Bar, barLines } from './bar-lines.ts';
import type { Score } from './score.ts';
import { TempoMap } from './tempo-map.ts';

/** What the user can choose of a guide's frame; the piece itself comes from the score. */
export interface GuideSettings {
  /** Nobody plays: the room alone, s, 0.5 to 60. Three seconds and more are good to learn the noise from. */
  readonly silenceSec: number;
  /** Clap at the start, or at the start and at the end, so that drift has two anchors. */
  readonly cue: 'start' | 'both';
  /** Bars of click before the music, 0 to 8. */
  readonly countInBars: number;
  /** A4, Hz, 415 to 466. */
  readonly referenceHz: number;
  /** Length of the tone to tune to, s, 0 (none) to 60. */
  readonly tuningSec: number;
  /** How fine the click is: bars only, beats, or every unit of the metre. */
  readonly click: 'none' | 'bars' | 'beats' | 'units';
  /** Bars (by number, both included) in which the click rests. */
  readonly restingBars: readonly { readonly fromBar: number; readonly toBar: number }[];
}

/** Our own choice: long enough for every later step, short enough not to be skipped. */
export const usualGuide: GuideSettings = {
  silenceSec: 5,
  cue: 'start',
  countInBars: 2,
  referenceHz: 440,
  tuningSec: 4,
  click: 'beats',
  restingBars: [],
};

/** Where everything lies in a guide, frames at 48 kHz from its first sample. */
export interface GuidePlan {
  readonly lengthFrames: number;
  readonly tones: readonly GuideTone[];
  readonly silence: { readonly fromFrame: number; readonly toFrame: number };
  readonly cues: readonly GuideCue[];
  readonly clicks: readonly GuideClick[];
  /** Where score position 0 sounds, and where the last bar ends. */
  readonly musicFrame: number;
  readonly musicEndFrame: number;
  readonly countInFrame: number;
  readonly bars: readonly GuideBar[];
}

export interface GuideTone {
  readonly fromFrame: number;
  readonly toFrame: number;
  readonly hz: number;
  /** Soft tones before and after the silence, the tone to tune to, and the one that says that it is over. */
  readonly what: 'silenceComes' | 'silenceEnds' | 'tuning' | 'end';
}

/** Three soft beats and a gap; the clap belongs where the fourth beat would be. */
export interface GuideCue {
  readonly beatFrames: readonly number[];
  readonly clapFrame: number;
  /** Until when nothing else sounds, so that the clap stands alone. */
  readonly toFrame: number;
  readonly at: 'start' | 'end';
}

export interface GuideClick {
  readonly frame: number;
  readonly kind: 'bar' | 'beat' | 'unit';
  readonly countIn: boolean;
}

export interface GuideBar {
  readonly number: number;
  readonly frame: number;
  readonly beatFrames: readonly number[];
}

/** Our own choices, s. The cue's beat is a calm 80 a minute: slow enough to clap on, quick enough to feel. */
const LEAD_SEC = 0.5;
const TONE_SEC = 0.8;
const GAP_SEC = 0.5;
const CUE_BEAT_SEC = 0.75;
const AFTER_CLAP_SEC = 1.5;
const BEFORE_COUNT_SEC = 1;
const RING_SEC = 2;
const END_TONE_SEC = 1.2;

/**
 * Lays out a guide: soft tone, silence, soft tone, tone to tune to, cue, count-in, music, and a second cue and an end tone.
 * Each position is rounded to a frame once, from its exact time. Throws RangeError for settings out of their ranges.
 */
export function planGuide(score: Score, settings: GuideSettings): GuidePlan {
  checkSettings(settings);
  const tempo = new TempoMap(score.tempo, score.holds);
  const bars = barLines(score);
  const opening = openingOf(settings);
  const first = bars[0]!;
  const countQuarters = countInQuarters(first, score, settings.countInBars);
  const countInSec = opening.endSec + BEFORE_COUNT_SEC;
  const musicSec = countInSec + (countQuarters * 60) / tempo.tempoAt(0);
  const frameAt = (quarters: number): number => toFrame(musicSec + tempo.secAt(quarters));
  const musicEndSec = musicSec + tempo.secAt(score.lengthQuarters);
  const ending = endingOf(musicEndSec, settings);
  return {
    lengthFrames: toFrame(ending.endSec),
    tones: [...opening.tones, ...ending.tones],
    silence: opening.silence,
    cues: [...opening.cues, ...ending.cues],
    clicks: clicksOf(bars, first, score, countQuarters, settings, frameAt),
    musicFrame: toFrame(musicSec),
    musicEndFrame: toFrame(musicEndSec),
    countInFrame: toFrame(countInSec),
    bars: bars.map((bar) => ({
      number: bar.number,
      frame: frameAt(bar.atQuarters),
      beatFrames: bar.beats.map((beat) => frameAt(beat.atQuarters)),
    })),
  };
}

function checkSettings(settings: GuideSettings): void {
  assertInRange('silenceSec', settings.silenceSec, 0.5, 60);
  assertInRange('countInBars', settings.countInBars, 0, 8);
  assertInRange('referenceHz', settings.referenceHz, 415, 466);
  assertInRange('tuningSec', settings.tuningSec, 0, 60);
}

function openingOf(settings: GuideSettings) {
  const { referenceHz, silenceSec, tuningSec } = settings;
  const silenceFrom = LEAD_SEC + TONE_SEC;
  const silenceTo = silenceFrom + silenceSec;
  const tones: GuideTone[] = [
    tone('silenceComes', LEAD_SEC, TONE_SEC, referenceHz),
    tone('silenceEnds', silenceTo, TONE_SEC, referenceHz),
  ];
  let at = silenceTo + TONE_SEC + GAP_SEC;
  if (tuningSec > 0) {
    tones.push(tone('tuning', at, tuningSec, referenceHz));
    at += tuningSec + GAP_SEC;
  }
  const cue = cueAt(at, 'start');
  return {
    tones,
    silence: { fromFrame: toFrame(silenceFrom), toFrame: toFrame(silenceTo) },
    cues: [cue.cue],
    endSec: cue.endSec,
  };
}

function endingOf(musicEndSec: number, settings: GuideSettings) {
  let at = musicEndSec + RING_SEC;
  const cues: GuideCue[] = [];
  if (settings.cue === 'both') {
    const cue = cueAt(at, 'end');
    cues.push(cue.cue);
    at = cue.endSec;
  }
  return { cues, tones: [tone('end', at, END_TONE_SEC, settings.referenceHz)], endSec: at + END_TONE_SEC + LEAD_SEC };
}

function cueAt(fromSec: number, at: GuideCue['at']): { cue: GuideCue; endSec: number } {
  const clapSec = fromSec + 3 * CUE_BEAT_SEC;
  const endSec = clapSec + AFTER_CLAP_SEC;
  return {
    cue: {
      beatFrames: [0, 1, 2].map((beat) => toFrame(fromSec + beat * CUE_BEAT_SEC)),
      clapFrame: toFrame(clapSec),
      toFrame: toFrame(endSec),
      at,
    },
    endSec,
  };
}

function tone(what: GuideTone['what'], fromSec: number, lengthSec: number, hz: number): GuideTone {
  return { what, fromFrame: toFrame(fromSec), toFrame: toFrame(fromSec + lengthSec), hz };
}

/** Quarters of click before position 0: whole bars, and before a pick-up what its bar lacks, too. */
function countInQuarters(first: Bar, score: Score, bars: number): number {
  const full = (4 * first.metre.beats) / first.metre.unit;
  if (bars === 0) return 0;
  const lacking = score.pickUpQuarters > 0 ? full - score.pickUpQuarters : 0;
  return bars * full + lacking;
}

function clicksOf(
  bars: readonly Bar[],
  first: Bar,
  score: Score,
  countQuarters: number,
  settings: GuideSettings,
  frameAt: (quarters: number) => number,
): GuideClick[] {
  const clicks: GuideClick[] = [];
  if (countQuarters > 0) {
    // The bars before the music, as if its first metre had begun there.
    const lead = barLines({ metres: [{ ...first.metre, atBar: 0 }], pickUpQuarters: 0, lengthQuarters: countQuarters });
    for (const bar of lead) {
      for (const click of clicksOfBar(bar, -countQuarters, 'beats', frameAt)) {
        if (click.quarters < -1e-9) clicks.push({ frame: click.frame, kind: click.kind, countIn: true });
      }
    }
  }
  if (settings.click === 'none') return clicks;
  for (const bar of bars) {
    if (settings.restingBars.some(({ fromBar, toBar }) => bar.number >= fromBar && bar.number <= toBar)) continue;
    for (const click of clicksOfBar(bar, 0, settings.click, frameAt)) {
      if (click.quarters < score.lengthQuarters - 1e-9)
        clicks.push({ frame: click.frame, kind: click.kind, countIn: false });
    }
  }
  return clicks;
}

function clicksOfBar(
  bar: Bar,
  shiftQuarters: number,
  fineness: GuideSettings['click'],
  frameAt: (quarters: number) => number,
): { frame: number; kind: GuideClick['kind']; quarters: number }[] {
  return bar.beats.flatMap((beat) => {
    const isBar = beat.number === 1;
    if (fineness === 'bars' && !isBar) return [];
    const count = fineness === 'units' ? beat.units : 1;
    return Array.from({ length: count }, (_, unit) => {
      const quarters = shiftQuarters + beat.atQuarters + (unit * beat.lengthQuarters) / beat.units;
      const kind = unit > 0 ? ('unit' as const) : isBar ? ('bar' as const) : ('beat' as const);
      return { frame: frameAt(quarters), kind, quarters };
    });
  });
}

function toFrame(sec: number): number {
  return secondsToFrames(sec, SESSION_RATE_HZ);
}
