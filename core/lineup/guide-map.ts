import type { Sound } from '../signal/sound.ts';
import { attackSpan, beginningsOf } from './attack-span.ts';
import { GuidePrint } from './bleed.ts';
import { MarkBeginnings } from './fine-lateness.ts';
import { FRAME_SEC, type Rises, TICK_SEC, type TraceSource } from './trace.ts';

/** What is known of a guide beforehand, as of one that was made from a plan; s from its first sample. */
export interface GuideMarks {
  /** Where the player is to clap: in gaps, where nothing sounds in the guide itself. */
  readonly clapsSec: readonly number[];
  readonly music: { readonly fromSec: number; readonly toSec: number };
  /** Whether voices sound in it, or clicks alone. */
  readonly hasVoices: boolean;
}

/** What line-up knows of the guide. */
export interface GuideMap {
  readonly rises: Rises;
  readonly print: GuidePrint;
  readonly beginnings: MarkBeginnings;
  /** Times at which something begins out of silence, s, in order: cue, count-in clicks and the first notes. */
  readonly starts: readonly number[];
  /** Where the player claps: as marked, else the starts that stand alone, with silence on both sides. */
  readonly cues: readonly number[];
  /** What was known beforehand. The cues are claps by hand then; else two of them far apart may be marks of another kind. */
  readonly marks: GuideMarks | undefined;
  /** Whether it sounds for most of its music, as clicks alone do not. */
  readonly hasNotes: boolean;
  /** About when its notes begin, s, and how long they take to become loud, s, where that is seen. */
  readonly beginningsSec: readonly number[];
  readonly attackSec: number | undefined;
}

/** Silence of the guide: this far below its loudest tick, dB. */
const SILENCE_DB = 45;
const LEAST_GAP_SEC = 0.12;
/** A guide that sounds for this share of its length holds notes (measured: notes 0.7 and more, clicks below 0.1). */
const NOTE_SHARE = 0.4;
/** A cue is at most this long, and has at least this silence before and after it. */
const CUE_LONGEST_SEC = 0.5;
const CUE_BEFORE_SEC = 1;
const CUE_AFTER_SEC = 0.6;

/** Reads the beginnings out of a guide. marks: what is known of it beforehand; it takes precedence. */
export function mapGuide(guide: Sound, trace: TraceSource, marks?: GuideMarks): GuideMap {
  const rises = trace.rises();
  const beginningsSec = beginningsOf(rises).map((frame) => frame * FRAME_SEC);
  const levels = trace.levels();
  const { energy } = levels;
  const bar = silenceBar(energy);
  const events = findEvents(energy, bar);
  const isCue = (_: Event, i: number): boolean => {
    const event = events[i]!;
    const before = event.fromSec - (events[i - 1]?.toSec ?? Number.NEGATIVE_INFINITY);
    const after = (events[i + 1]?.fromSec ?? Number.POSITIVE_INFINITY) - event.toSec;
    const lengthSec = event.toSec - event.fromSec;
    return lengthSec < CUE_LONGEST_SEC && before >= CUE_BEFORE_SEC && after >= CUE_AFTER_SEC;
  };
  const cues = marks?.clapsSec ?? events.filter(isCue).map((event) => exactStart(guide, event.fromSec));
  return {
    rises,
    beginnings: new MarkBeginnings(guide, rises, cues),
    print: new GuidePrint(guide, energy, TICK_SEC),
    hasNotes: (marks?.hasVoices ?? true) && soundsMostly(energy, bar, marks?.music),
    starts: events.map((event) => exactStart(guide, event.fromSec)),
    cues,
    marks,
    beginningsSec,
    attackSec: attackSpan(levels, beginningsSec),
  };
}

/** Whether a stretch (all of it, where none is named) sounds for so long that it holds notes. */
function soundsMostly(energy: Float32Array, bar: number, stretch: GuideMarks['music'] | undefined): boolean {
  const from = stretch === undefined ? 0 : Math.max(0, Math.round(stretch.fromSec / TICK_SEC));
  const to = stretch === undefined ? energy.length : Math.min(energy.length, Math.round(stretch.toSec / TICK_SEC));
  let sounding = 0;
  for (let i = from; i < to; i++) if (energy[i]! > bar) sounding++;
  return sounding > NOTE_SHARE * (to - from);
}

interface Event {
  readonly fromSec: number;
  readonly toSec: number;
}

/** Power above which the guide is said to sound. */
function silenceBar(energy: Float32Array): number {
  let most = 0;
  for (const power of energy) most = Math.max(most, power);
  return most * 10 ** (-SILENCE_DB / 10);
}

/** Stretches of sound between silences. */
function findEvents(energy: Float32Array, bar: number): Event[] {
  const gap = Math.round(LEAST_GAP_SEC / TICK_SEC);
  const events: Event[] = [];
  let from = -1;
  let last = 0;
  for (let i = 0; i < energy.length; i++) {
    if (energy[i]! <= bar) continue;
    if (from >= 0 && i - last > gap) {
      events.push({ fromSec: from * TICK_SEC, toSec: (last + 1) * TICK_SEC });
      from = i;
    }
    if (from < 0) from = i;
    last = i;
  }
  if (from >= 0) events.push({ fromSec: from * TICK_SEC, toSec: (last + 1) * TICK_SEC });
  return events;
}

/** First sample near a tick that passes a twentieth of what follows within 10 ms. */
function exactStart(guide: Sound, nearSec: number): number {
  const first = Math.round((nearSec - 2 * TICK_SEC) * guide.rateHz);
  const samples = new Float32Array(Math.round(0.014 * guide.rateHz));
  guide.read(first, samples);
  let peak = 0;
  for (const sample of samples) peak = Math.max(peak, Math.abs(sample));
  const at = samples.findIndex((sample) => Math.abs(sample) > 0.05 * peak);
  return (first + Math.max(0, at)) / guide.rateHz;
}
