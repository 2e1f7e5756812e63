import type { GuideFile } from '../app/desk/guide-file.ts';
import type { GuidePlan } from '../core/guide/guide-plan.ts';
import type { Score, SoundFamily } from '../core/guide/score.ts';
import { secondsToFrames } from '../core/signal/time.ts';
import { clickTimes } from './guide.ts';
import {
  BEATS_PER_BAR,
  beatToSec,
  COUNT_IN_SEC,
  CUE_SEC,
  GUIDE_LENGTH_SEC,
  type InstrumentName,
  MUSIC_SEC,
  PARTS,
  TITLE,
  TOTAL_BEATS,
} from './score.ts';

const RATE_HZ = 48000;
/** What the cue's stroke and the clap on it have for themselves, s. */
const CUE_ALONE_SEC = 1.4;

const FAMILIES: Readonly<Record<InstrumentName, SoundFamily>> = {
  descantRecorder: 'blown',
  tenorRecorder: 'blown',
  trebleViol: 'bowed',
  bassViol: 'bowed',
};

/** What lies beside the sample's guide: where its silence, cue, count-in and bars are, and the canon as a score. */
export function sampleGuideFile(): GuideFile {
  return {
    title: TITLE,
    plan: samplePlan(),
    settings: {
      silenceSec: CUE_SEC,
      cue: 'start',
      countInBars: 1,
      referenceHz: 440,
      tuningSec: 0,
      click: 'beats',
      restingBars: [],
    },
    score: sampleScore(),
  };
}

function samplePlan(): GuidePlan {
  const frame = (sec: number): number => secondsToFrames(sec, RATE_HZ);
  const { countInSec, beatsSec } = clickTimes();
  const kind = (index: number): 'bar' | 'beat' => (index % BEATS_PER_BAR === 0 ? 'bar' : 'beat');
  return {
    lengthFrames: frame(GUIDE_LENGTH_SEC),
    tones: [],
    silence: { fromFrame: 0, toFrame: frame(CUE_SEC) },
    // The sample's players clap on the stroke itself.
    cues: [{ beatFrames: [], clapFrame: frame(CUE_SEC), toFrame: frame(CUE_SEC + CUE_ALONE_SEC), at: 'start' }],
    clicks: [
      ...countInSec.map((sec, index) => ({ frame: frame(sec), kind: kind(index), countIn: true })),
      ...beatsSec.map((sec, index) => ({ frame: frame(sec), kind: kind(index), countIn: false })),
    ],
    countInFrame: frame(COUNT_IN_SEC),
    musicFrame: frame(MUSIC_SEC),
    musicEndFrame: frame(beatToSec(TOTAL_BEATS)),
    bars: Array.from({ length: TOTAL_BEATS / BEATS_PER_BAR }, (_, bar) => ({
      number: bar + 1,
      frame: frame(beatToSec(bar * BEATS_PER_BAR)),
      beatFrames: Array.from({ length: BEATS_PER_BAR }, (__, beat) => frame(beatToSec(bar * BEATS_PER_BAR + beat))),
    })),
  };
}

function sampleScore(): Score {
  return {
    title: TITLE,
    parts: PARTS.map((part, index) => ({
      id: `part-${index + 1}`,
      name: part.name,
      sound: FAMILIES[part.instrument],
      notes: part.notes.map((note) => ({
        atQuarters: note.beat,
        lengthQuarters: note.lengthBeats,
        key: note.midi,
        loudness: 0.65,
      })),
    })),
    metres: [{ atBar: 0, beats: BEATS_PER_BAR, unit: 4, groups: null }],
    pickUpQuarters: 0,
    tempo: sampleTempo(),
    holds: [],
    lengthQuarters: TOTAL_BEATS,
    notes: [],
  };
}

/** A mark where the tempo changes; the canon broadens beat by beat in its last bars, and each beat's end falls where it is heard. */
function sampleTempo(): Score['tempo'] {
  const marks = Array.from({ length: TOTAL_BEATS }, (_, beat) => ({
    atQuarters: beat,
    quartersPerMinute: 60 / (beatToSec(beat + 1) - beatToSec(beat)),
    glides: false,
  }));
  return marks.filter((mark, at) => Math.abs(mark.quartersPerMinute - (marks[at - 1]?.quartersPerMinute ?? 0)) > 1e-6);
}
