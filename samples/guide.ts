import {
  BEATS_PER_BAR,
  beatToSec,
  CUE_SEC,
  EXACT,
  GUIDE_LENGTH_SEC,
  PARTS,
  type PlayedNote,
  perform,
  TOTAL_BEATS,
} from './score.ts';

const RATE_HZ = 48000;
const CUE_HZ = 1320;

/** Session seconds of the clicks: a bar of count-in, then every beat up to the last chord. */
export function clickTimes(): { countInSec: number[]; beatsSec: number[] } {
  const beat = (i: number): number => beatToSec(i);
  return {
    countInSec: Array.from({ length: BEATS_PER_BAR }, (_, i) => beat(i - BEATS_PER_BAR)),
    beatsSec: Array.from({ length: TOTAL_BEATS - BEATS_PER_BAR + 1 }, (_, i) => beat(i)),
  };
}

/** A tone with a sharp attack that dies away: cue and clicks. */
function addStroke(target: Float64Array, atSec: number, hz: number, ratio: number, decaySec: number): void {
  const from = Math.round(atSec * RATE_HZ);
  const length = Math.round(8 * decaySec * RATE_HZ);
  for (let i = 0; i < length && from + i < target.length; i++) {
    const t = i / RATE_HZ;
    const loud = ratio * Math.min(1, t / 0.0008) * Math.exp(-t / decaySec);
    const turn = 2 * Math.PI * hz * t;
    target[from + i]! += loud * (Math.sin(turn) + 0.35 * Math.sin(2.76 * turn));
  }
}

/** A soft keyed tone for the mock-up: four partials, the higher ones die first. */
function addKeyedNote(target: Float64Array, note: PlayedNote, ratio: number): void {
  const hz = 440 * 2 ** ((note.midi - 69) / 12);
  const from = Math.round(note.startSec * RATE_HZ);
  const length = Math.round((note.lengthSec + 0.2) * RATE_HZ);
  for (let i = 0; i < length && from + i < target.length; i++) {
    const t = i / RATE_HZ;
    const held =
      Math.min(1, t / 0.006) * (t > note.lengthSec - 0.03 ? Math.exp(-(t - note.lengthSec + 0.03) / 0.04) : 1);
    let tone = 0;
    for (let n = 1; n <= 4; n++) {
      tone += (0.5 ** (n - 1) * Math.exp((-t * n) / 0.9) + (n === 1 ? 0.25 : 0)) * Math.sin(2 * Math.PI * n * hz * t);
    }
    target[from + i]! += ratio * held * tone;
  }
}

/** The guide as the players heard it, mono, 48 kHz: silence, the cue, the count-in, then clicks over a soft mock-up. */
export function makeGuide(): Float64Array {
  const guide = new Float64Array(Math.round(GUIDE_LENGTH_SEC * RATE_HZ));
  addStroke(guide, CUE_SEC, CUE_HZ, 0.6, 0.05);
  const { countInSec, beatsSec } = clickTimes();
  for (const [i, at] of countInSec.entries()) addStroke(guide, at, i === 0 ? 1760 : 1175, 0.24, 0.012);
  for (const [i, at] of beatsSec.entries()) addStroke(guide, at, i % BEATS_PER_BAR === 0 ? 1760 : 1175, 0.1, 0.012);
  for (const part of PARTS) {
    for (const note of perform(part, EXACT, 0)) addKeyedNote(guide, note, 0.055);
  }
  return guide;
}
