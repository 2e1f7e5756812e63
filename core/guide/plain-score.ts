import { barQuarters } from './bar-lines.ts';
import type { Score } from './score.ts';

/** A piece of which only tempo, metre and length are known: the guide then is a click. bars: 1 to 2000. */
export function plainScore(piece: {
  readonly title: string;
  readonly quartersPerMinute: number;
  readonly beats: number;
  readonly unit: number;
  readonly bars: number;
}): Score {
  const { title, quartersPerMinute, beats, unit, bars } = piece;
  if (!Number.isInteger(bars) || bars < 1 || bars > 2000) throw new RangeError(`bars is ${bars}; allowed 1 to 2000`);
  const metre = { atBar: 0, beats, unit, groups: null };
  return {
    title,
    parts: [],
    metres: [metre],
    pickUpQuarters: 0,
    tempo: [{ atQuarters: 0, quartersPerMinute, glides: false }],
    holds: [],
    lengthQuarters: bars * barQuarters(metre),
    notes: [],
  };
}

/** The same piece with another tempo at its beginning; all later tempos keep their ratio to it. Fermatas stretch alike. */
export function atTempo(score: Score, quartersPerMinute: number): Score {
  const first = score.tempo[0]?.quartersPerMinute ?? quartersPerMinute;
  const ratio = quartersPerMinute / first;
  return {
    ...score,
    tempo: score.tempo.map((mark) => ({ ...mark, quartersPerMinute: mark.quartersPerMinute * ratio })),
    holds: score.holds.map((hold) => ({ ...hold, sec: hold.sec / ratio })),
  };
}
