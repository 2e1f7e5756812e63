import { type Clock, sessionSecOf } from '../signal/clock.ts';
import { clockCents, type HeardVoice } from './match-voice.ts';

/** A note that the guide plays. */
export interface GuideNote {
  /** Session time, s. */
  readonly atSec: number;
  readonly endSec: number;
  /** As it sounds, cents above A4 = 440 Hz. */
  readonly cents: number;
}

/**
 * A note this far below the voice's own level may be the guide out of the headphones, dB. Our own choice: some 26 and more in the takes that
 * were looked at; a soft entry 20 dB below the rest is music.
 */
const LEAK_DB = 23;
/** Notes farther below the mean of all are not of the voice's own level (as the relative gate of ITU-R BS.1770 has it), dB. */
const GATE_DB = 10;
/** What leaks has the guide's pitch, but for how closely a faint note can be read, and sounds while the guide plays it. */
const SAME_CENTS = 20;
const LATE_SEC = 0.15;
const LEAST_SHARE = 0.7;

/**
 * A voice without what its microphone heard of the guide: faint notes at the very pitch that the guide plays at that moment, wherever it
 * lies. They go from the notes and from the row, which is copied. Needs a place. Out: the voice itself where nothing leaked.
 */
export function withoutLeaks<Voice extends HeardVoice>(
  voice: Voice,
  guide: readonly GuideNote[],
): { readonly voice: Voice; readonly leaked: number } {
  const { row, notes, place } = voice;
  const faintDbfs = gatedDbfs(notes) - LEAK_DB;
  const leaks = notes.filter((note) => note.levelDbfs < faintDbfs && isOfGuide(note, place, guide));
  if (leaks.length === 0) return { voice, leaked: 0 };
  const gone = new Set(leaks);
  const hz = row.hz.slice();
  for (const { fromSec, toSec } of leaks) {
    const from = Math.max(0, Math.ceil((fromSec - row.firstSec) / row.hopSec));
    hz.fill(Number.NaN, from, Math.max(from, Math.ceil((toSec - row.firstSec) / row.hopSec)));
  }
  const kept = notes.filter((note) => !gone.has(note));
  return { voice: { ...voice, notes: kept, row: { ...row, hz } }, leaked: leaks.length };
}

/** Mean power of the notes, those far below it left out, dBFS; -Infinity without notes. */
function gatedDbfs(notes: HeardVoice['notes']): number {
  const mean = (gate: number): number => {
    let [power, sec] = [0, 0];
    for (const { levelDbfs, fromSec, toSec } of notes) {
      if (levelDbfs < gate) continue;
      power += (toSec - fromSec) * 10 ** (levelDbfs / 10);
      sec += toSec - fromSec;
    }
    return 10 * Math.log10(power / Math.max(1e-9, sec));
  };
  return mean(mean(Number.NEGATIVE_INFINITY) - GATE_DB);
}

function isOfGuide(note: HeardVoice['notes'][number], place: Clock, guide: readonly GuideNote[]): boolean {
  const fromSec = sessionSecOf(place, note.fromSec);
  const toSec = sessionSecOf(place, note.toSec);
  const cents = note.cents + clockCents(place, note.fromSec);
  return guide.some((one) => {
    if (one.atSec > toSec || one.endSec < fromSec - LATE_SEC || Math.abs(one.cents - cents) > SAME_CENTS) return false;
    const together = Math.min(toSec, one.endSec + LATE_SEC) - Math.max(fromSec, one.atSec);
    return together >= LEAST_SHARE * (toSec - fromSec);
  });
}
