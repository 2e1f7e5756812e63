import { type Clock, takeSecOf } from '../signal/clock.ts';
import { WARN_MS } from './audibility.ts';
import {
  FARTHEST_MOVE_CENTS,
  FARTHEST_NUDGE_MS,
  mendCentsAt,
  type Nudge,
  type TakeMend,
  unwarpedTakeSec,
  warpedTakeSec,
} from './mend.ts';
import { medianOf, spreadOf } from './pitch-span.ts';
import { chanceOf, pitchTrend, type TrendPoint } from './pitch-trend.ts';
import { robustLine, weightedMedian } from './robust-line.ts';

/** A note of the intonation report: session time, s. */
export interface PitchFinding {
  readonly fromSec: number;
  readonly toSec: number;
  /** Off what is wanted, with what is mended already. */
  readonly offCents: number;
  readonly uncertaintyCents: number;
  /** MIDI key; without it what comes from the height of the notes is taken for a movement over time. */
  readonly key?: number;
}

/** A note of the timing report: session time, s. */
export interface TimingFinding {
  readonly sec: number;
  /** With what is mended already; above 0 late. */
  readonly lateMs: number;
}

/** The take that findings are about: where its mended sound lies, and what is mended in it already. */
export interface MendedPlace {
  readonly clock: Clock;
  readonly mend: TakeMend | null;
}

/** An offset is worth mending from here on, cents, and when it is three times its own uncertainty. */
const LEAST_OFFSET_CENTS = 2;
const SURE_OFFSET = 3;
const FEWEST_NOTES = 4;

/**
 * By how many whole cents a take would have to be moved as a whole, with its curve left as it is, so that the middle of its notes
 * (median, by length) is where it is wanted. What it is moved by already where that cannot be bettered. Only a proposal.
 */
export function mendForOffset(notes: readonly PitchFinding[], { mend }: MendedPlace): number {
  const now = mend?.cents ?? 0;
  if (notes.length < FEWEST_NOTES) return now;
  const offs = notes.map(({ offCents }) => offCents);
  const weights = notes.map(({ fromSec, toSec }) => toSec - fromSec);
  const off = weightedMedian(offs, weights);
  const own = notes.reduce((sum, note) => sum + note.uncertaintyCents, 0) / notes.length;
  const uncertainty = Math.hypot(1.2533 * spreadOf(offs, off), own) / Math.sqrt(notes.length);
  if (Math.abs(off) < LEAST_OFFSET_CENTS || Math.abs(off) < SURE_OFFSET * uncertainty) return now;
  return held(Math.round(now - off), FARTHEST_MOVE_CENTS);
}

/** A slow movement is told from here on, cents, and when it is three times its own uncertainty; as in voice-habits.ts. */
const LEAST_SINK_CENTS = 6;
const SURE_SINK = 3;
/** The curve is looked at over stretches of this length and so many notes at the least: no vibrato and no single note moves it. */
const LEAST_WIDTH_SEC = 20;
const LEAST_WIDTH_NOTES = 12;
const MOST_POINTS = 9;
const POINT_SEC = 15;
/** A point that lies this near to the line between its neighbours is left out, and all are rounded to it, cents. */
const CURVE_STEP_CENTS = 0.5;

/** What the height of notes makes of their pitch is taken out where chance would make it this rarely. */
const HEIGHT_CHANCE = 0.1;

/**
 * A slow curve against a pitch that sinks (or rises, or sags): with it the take stays where it was at its beginning. Found by
 * straight lines, robust against single notes (Theil and Sen's, see robust-line.ts), over stretches of 20 s and 12 notes at the
 * least, as Cleveland's local regression does (1979, Journal of the American Statistical Association 74). A voice that is flat on high notes does not sink: what goes with
 * the height is taken out before (see pitch-trend.ts), and where a melody climbs so evenly that the two cannot be told apart, nothing is proposed. Empty where it does not move by 6 cents, or not surely. Times of the take as it
 * was recorded. Only a proposal.
 */
export function mendForSink(notes: readonly PitchFinding[], place: MendedPlace): TakeMend['curve'] {
  const curved = place.mend === null ? null : { ...place.mend, cents: 0 };
  const { points, climb, perKeyUncertainty } = withoutHeight(
    notes.map((note) => {
      const sec = recordedSec(place, 0.5 * (note.fromSec + note.toSec));
      return { sec, key: note.key ?? 0, cents: note.offCents - (curved === null ? 0 : mendCentsAt(curved, sec)) };
    }),
  );
  const [first, last] = [points[0], points.at(-1)];
  const all = robustLine(points);
  if (first === undefined || last === undefined || all === undefined || points.length < LEAST_WIDTH_NOTES) return [];
  const lengthSec = last[0] - first[0];
  const count = Math.max(2, Math.min(MOST_POINTS, 1 + Math.round(lengthSec / POINT_SEC)));
  const width = Math.max(LEAST_WIDTH_SEC, (2 * lengthSec) / (count - 1));
  const values = Array.from({ length: count }, (_, n) => {
    const sec = first[0] + (lengthSec * n) / (count - 1);
    return { atSec: sec, cents: levelAt(points, sec, width) };
  });
  const sizes = values.map(({ cents }) => cents);
  const range = Math.max(...sizes) - Math.min(...sizes);
  // Of a level found from the notes of one stretch; two of them differ by a range.
  const share = Math.min(1, width / Math.max(width, lengthSec));
  const ofNotes = (Math.SQRT2 * 1.2533 * all.spread) / Math.sqrt(Math.max(1, share * points.length));
  const climbs = values.map(({ atSec }) => levelAt(climb, atSec, width));
  const ofHeight = perKeyUncertainty * (Math.max(...climbs) - Math.min(...climbs));
  const uncertainty = Math.hypot(ofNotes, ofHeight);
  if (range < LEAST_SINK_CENTS || range < SURE_SINK * uncertainty) return [];
  const begin = values[0]!.cents;
  return thinned(
    values.map(({ atSec, cents }) => ({
      atSec: Math.round(10 * atSec) / 10,
      cents: held(Math.round((begin - cents) / CURVE_STEP_CENTS) * CURVE_STEP_CENTS, FARTHEST_MOVE_CENTS),
    })),
  );
}

type Points = readonly (readonly [number, number])[];

/** Notes in time, without what their height makes of them, and their height itself; none where that cannot be told from the time. */
function withoutHeight(notes: readonly TrendPoint[]): {
  readonly points: Points;
  readonly climb: Points;
  readonly perKeyUncertainty: number;
} {
  const sorted = [...notes].sort((one, other) => one.sec - other.sec);
  const trend = pitchTrend(sorted);
  if (trend !== undefined && !Number.isFinite(trend.perSec.uncertainty)) {
    return { points: [], climb: [], perKeyUncertainty: 0 };
  }
  const isOfHeight = trend !== undefined && chanceOf(trend.perKey) <= HEIGHT_CHANCE;
  const perKey = isOfHeight ? trend.perKey.value : 0;
  const middleKey = trend?.middleKey ?? 0;
  return {
    points: sorted.map(({ sec, key, cents }) => [sec, cents - perKey * (key - middleKey)]),
    climb: sorted.map(({ sec, key }) => [sec, key]),
    perKeyUncertainty: trend?.perKey.uncertainty ?? 0,
  };
}

/** The level of points about a place. */
function levelAt(points: readonly (readonly [number, number])[], sec: number, widthSec: number): number {
  const near = [...points].sort((one, other) => Math.abs(one[0] - sec) - Math.abs(other[0] - sec));
  const inside = near.filter(([x]) => Math.abs(x - sec) <= widthSec / 2).length;
  const used = near.slice(0, Math.max(LEAST_WIDTH_NOTES, inside)).sort((one, other) => one[0] - other[0]);
  const line = robustLine(used);
  return line === undefined ? medianOf(used.map(([, y]) => y)) : line.centre + line.slope * (sec - line.middle);
}

function thinned(curve: TakeMend['curve']): TakeMend['curve'] {
  const kept = [...curve];
  for (let n = kept.length - 2; n > 0; n--) {
    const [before, here, after] = [kept[n - 1]!, kept[n]!, kept[n + 1]!];
    const share = (here.atSec - before.atSec) / (after.atSec - before.atSec);
    const line = before.cents + share * (after.cents - before.cents);
    if (Math.abs(here.cents - line) <= CURVE_STEP_CENTS) kept.splice(n, 1);
  }
  return kept;
}

/** A stretch is so many notes at the least that are early or late alike. */
const FEWEST_ALIKE = 3;
/** Notes of a stretch spread by this at the least, ms: nobody keeps time better, and no onset is known better. */
const LEAST_SPREAD_MS = 6;
/** A stretch begins so long before its first note, s, so that nothing of its attack is left behind. */
const LEAD_SEC = 0.03;
const AFTER_LAST_SEC = 0.5;

/**
 * Nudges for stretches of a take that are early or late as a whole, by the middle of their notes in whole ms: where the row of
 * notes falls into stretches of three and more that differ (least squares with a price for each stretch, as Jackson et al.
 * 2005, IEEE Signal Processing Letters 12), and one is off by what is heard (20 ms and more) and by twice its own uncertainty. Held within 60 ms. Times of
 * the take as it was recorded. Only a proposal.
 */
export function nudgesFor(notes: readonly TimingFinding[], place: MendedPlace): Nudge[] {
  const rows = notes
    .map(({ sec, lateMs }) => {
      const atSec = recordedSec(place, sec);
      return { atSec, lateMs: lateMs - 1000 * (warpedTakeSec(place.mend, atSec) - atSec) };
    })
    .sort((one, other) => one.atSec - other.atSec);
  const nudges: Nudge[] = [];
  for (const { from, to } of stretchesOf(rows.map(({ lateMs }) => lateMs))) {
    const own = rows.slice(from, to);
    const lates = own.map(({ lateMs }) => lateMs);
    const late = medianOf(lates);
    const uncertainty = (1.2533 * Math.max(LEAST_SPREAD_MS, spreadOf(lates, late))) / Math.sqrt(lates.length);
    if (own.length < FEWEST_ALIKE || Math.abs(late) < WARN_MS || Math.abs(late) < 2 * uncertainty) continue;
    const lastSec = own.at(-1)!.atSec;
    const next = rows[to]?.atSec ?? lastSec + 2 * AFTER_LAST_SEC;
    const fromSec = Math.max(nudges.at(-1)?.toSec ?? Number.NEGATIVE_INFINITY, own[0]!.atSec - LEAD_SEC);
    const toSec = lastSec + Math.min(AFTER_LAST_SEC, 0.5 * (next - lastSec));
    if (toSec <= fromSec) continue;
    nudges.push({
      fromSec: Math.round(1000 * fromSec) / 1000,
      toSec: Math.round(1000 * toSec) / 1000,
      byMs: held(-Math.round(late), FARTHEST_NUDGE_MS),
    });
  }
  return nudges;
}

/** Parts a row of values where its level changes; each part by its first and the one after its last. */
function stretchesOf(values: readonly number[]): { from: number; to: number }[] {
  const count = values.length;
  if (count < FEWEST_ALIKE) return [];
  // One note that is out of its row does not part it.
  const smooth = values.map((value, n) => medianOf([values[n - 1] ?? value, value, values[n + 1] ?? value]));
  const steps = values.slice(1).map((value, n) => Math.abs(value - values[n]!));
  const spread = Math.max(LEAST_SPREAD_MS, 1.0484 * medianOf(steps));
  const sums = new Float64Array(count + 1);
  const squares = new Float64Array(count + 1);
  for (let n = 0; n < count; n++) {
    sums[n + 1] = sums[n]! + smooth[n]!;
    squares[n + 1] = squares[n]! + smooth[n]! ** 2;
  }
  const price = 4 * Math.log(Math.max(2, count));
  const least = new Float64Array(count + 1).fill(Number.POSITIVE_INFINITY);
  const begins = new Int32Array(count + 1);
  least[0] = -price;
  for (let to = FEWEST_ALIKE; to <= count; to++) {
    for (let from = 0; from <= to - FEWEST_ALIKE; from++) {
      const sum = sums[to]! - sums[from]!;
      const rest = squares[to]! - squares[from]! - (sum * sum) / (to - from);
      const cost = least[from]! + price + rest / spread ** 2;
      if (cost < least[to]!) {
        least[to] = cost;
        begins[to] = from;
      }
    }
  }
  const parts: { from: number; to: number }[] = [];
  for (let to = count; to > 0; to = begins[to]!) parts.unshift({ from: begins[to]!, to });
  return parts;
}

/** A moment of the session in the take's own time as it was recorded. */
function recordedSec({ clock, mend }: MendedPlace, sessionSec: number): number {
  return unwarpedTakeSec(mend, takeSecOf(clock, sessionSec));
}

function held(value: number, most: number): number {
  // No minus zero.
  return Math.max(-most, Math.min(most, value)) || 0;
}
