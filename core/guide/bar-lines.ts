import type { Metre, Score } from './score.ts';

/** A bar of the piece as it is played. */
export interface Bar {
  /** As players count: 1 the first full bar, 0 the pick-up. */
  readonly number: number;
  readonly atQuarters: number;
  readonly lengthQuarters: number;
  readonly metre: Metre;
  /** Positions of the beats, the first at `atQuarters` (a pick-up bar begins in the middle of its metre). */
  readonly beats: readonly Beat[];
}

export interface Beat {
  readonly atQuarters: number;
  /** 1 the first of the bar. */
  readonly number: number;
  readonly lengthQuarters: number;
  /** Units of the metre within the beat: 1 for 4/4, 3 for 6/8. */
  readonly units: number;
}

/** Units of a metre grouped to beats by custom (common practice, no source): 6/8, 9/8, 12/8 in threes, 5/8 3 + 2, 7/8 2 + 2 + 3. */
export function groupsOf(metre: Metre): readonly number[] {
  if (metre.groups !== null) return metre.groups;
  const { beats, unit } = metre;
  if (unit >= 8) {
    if (beats > 3 && beats % 3 === 0) return Array.from({ length: beats / 3 }, () => 3);
    if (beats === 5) return [3, 2];
    if (beats === 7) return [2, 2, 3];
    if (beats === 8) return [3, 3, 2];
  }
  return Array.from({ length: beats }, () => 1);
}

/** The most units a metre may count. */
const MOST_UNITS = 64;

/** The nearest length that a bar of any kind can have, not shorter: to the next 32nd, of long bars to a longer unit. */
export function oddLength(lengthQuarters: number): number {
  const unit = [32, 16, 8, 4, 2].find((one) => Math.ceil((lengthQuarters * one) / 4 - 1e-6) <= MOST_UNITS) ?? 1;
  return (4 * Math.max(1, Math.ceil((lengthQuarters * unit) / 4 - 1e-6))) / unit;
}

/** The metre of a bar of such a length, counted as one beat. Throws RangeError for one of more than 64 wholes. */
export function oddMetre(lengthQuarters: number): Pick<Metre, 'beats' | 'unit' | 'groups'> {
  for (const unit of [32, 16, 8, 4, 2, 1]) {
    const beats = (lengthQuarters * unit) / 4;
    if (beats <= MOST_UNITS && Number.isInteger(beats)) return { beats, unit, groups: [beats] };
  }
  throw new RangeError(`a bar lasts ${lengthQuarters} quarters, which no metre fits`);
}

/** Length of a full bar of a metre. */
export function barQuarters(metre: Metre): number {
  return (4 * metre.beats) / metre.unit;
}

/** All bars of a piece, the last one full even where the notes end before it. Throws RangeError for a metre that cannot be. */
export function barLines(score: Pick<Score, 'metres' | 'pickUpQuarters' | 'lengthQuarters'>): Bar[] {
  const { metres, pickUpQuarters, lengthQuarters } = score;
  for (const metre of metres) checkMetre(metre);
  if (metres[0]?.atBar !== 0) throw new RangeError('metres must begin at bar 0');
  const bars: Bar[] = [];
  let at = 0;
  while (bars.length === 0 || at < lengthQuarters - 1e-9) {
    const index = bars.length;
    const metre = metres.findLast((one) => one.atBar <= index)!;
    const full = barQuarters(metre);
    const isPickUp = index === 0 && pickUpQuarters > 0;
    const length = isPickUp ? pickUpQuarters : full;
    bars.push({
      number: pickUpQuarters > 0 ? index : index + 1,
      atQuarters: at,
      lengthQuarters: length,
      metre,
      beats: beatsOf(metre, at, full - length),
    });
    at += length;
  }
  return bars;
}

/** Beats of a bar whose first `missing` quarters are not played. */
function beatsOf(metre: Metre, at: number, missing: number): Beat[] {
  const unitQuarters = 4 / metre.unit;
  const beats: Beat[] = [];
  let from = 0;
  for (const [index, units] of groupsOf(metre).entries()) {
    const lengthQuarters = units * unitQuarters;
    if (from >= missing - 1e-9)
      beats.push({ atQuarters: at + from - missing, number: index + 1, lengthQuarters, units });
    from += lengthQuarters;
  }
  return beats;
}

function checkMetre(metre: Metre): void {
  const { beats, unit, groups } = metre;
  if (!Number.isInteger(beats) || beats < 1 || beats > MOST_UNITS)
    throw new RangeError(`beats is ${beats}; allowed 1 to 64`);
  if (![1, 2, 4, 8, 16, 32].includes(unit)) throw new RangeError(`unit is ${unit}; allowed 1, 2, 4, 8, 16, 32`);
  if (groups !== null && groups.reduce((sum, one) => sum + one, 0) !== beats) {
    throw new RangeError(`groups are ${groups.join(' + ')}; they must add up to ${beats}`);
  }
}
