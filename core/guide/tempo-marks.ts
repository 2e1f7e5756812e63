import { type Bar, barLines } from './bar-lines.ts';
import type { Score, TempoMark } from './score.ts';
import { TempoMap } from './tempo-map.ts';

/** A change of tempo that the player asks for; bars by their numbers. */
export interface Ritardando {
  readonly fromBar: number;
  /** Its last bar; the tempo is reached at its end, and the former one comes back after it. */
  readonly toBar: number;
  readonly quartersPerMinute: number;
}

/** A fermata that the player asks for: the score waits at the end of a beat. */
export interface AskedHold {
  readonly bar: number;
  /** 1 the first; null the last of the bar. */
  readonly beat: number | null;
  readonly sec: number;
}

/**
 * A score with an even change of tempo over some bars (a ritardando, or an accelerando). What the score itself says of the
 * tempo there gives way. Throws RangeError for bars that are not there.
 */
export function withRitardando(score: Score, { fromBar, toBar, quartersPerMinute }: Ritardando): Score {
  const bars = barLines(score);
  const first = barOf(bars, fromBar);
  const last = barOf(bars, toBar);
  const from = first.atQuarters;
  const to = last.atQuarters + last.lengthQuarters;
  const map = new TempoMap(score.tempo, score.holds);
  const own: TempoMark[] = [
    { atQuarters: from, quartersPerMinute: map.tempoAt(from), glides: true },
    { atQuarters: to, quartersPerMinute, glides: false },
  ];
  // Two marks at one place: the glide ends at the one, the music goes on with the other.
  const back: TempoMark[] =
    to < score.lengthQuarters - 1e-9
      ? [{ atQuarters: to + A_TEMPO_QUARTERS, quartersPerMinute: map.tempoAt(to), glides: false }]
      : [];
  const others = score.tempo.filter((mark) => mark.atQuarters < from || mark.atQuarters > to + A_TEMPO_QUARTERS);
  return { ...score, tempo: [...others, ...own, ...back].sort((a, b) => a.atQuarters - b.atQuarters) };
}

/** A tempo map has one tempo at each place: the former one comes back this much later, quarters, which is no frame. */
const A_TEMPO_QUARTERS = 1e-7;

/** A score that waits at the end of a beat. Throws RangeError for a bar or beat that is not there. */
export function withHold(score: Score, { bar, beat, sec }: AskedHold): Score {
  const found = barOf(barLines(score), bar);
  const at = beat === null ? undefined : found.beats.find((one) => one.number === beat);
  if (beat !== null && at === undefined) throw new RangeError(`bar ${bar} has no beat ${beat}`);
  const atQuarters = at === undefined ? found.atQuarters + found.lengthQuarters : at.atQuarters + at.lengthQuarters;
  return { ...score, holds: [...score.holds, { atQuarters, sec }] };
}

function barOf(bars: readonly Bar[], number: number): Bar {
  const bar = bars.find((one) => one.number === number);
  if (bar !== undefined) return bar;
  throw new RangeError(`there is no bar ${number}; bars are ${bars[0]!.number} to ${bars.at(-1)!.number}`);
}
