import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import { FEW_MIND, HEARD_CENTS, WARN_CENTS } from './audibility.ts';
import { aboveHeight, middleSecOf, type PitchDrift, type Reference, type VoiceCentre } from './ensemble-pitch.ts';
import { medianOf } from './pitch-span.ts';
import { chanceOf, type Estimate, honestDeviation, type PitchTrend, pitchTrend, scaled } from './pitch-trend.ts';
import type { TunedNote, TunedVoice } from './tuned-note.ts';

/** Something a voice does all through the piece. */
export interface VoiceHabit {
  /**
   * 'sinksOrHigh', 'risesOrHigh': lower (higher) at the end, by the time or by the height of its notes: this melody does not tell.
   * 'takesApart': not its own; the takes that it is put together from are tuned apart (core/session/takes-apart.ts).
   */
  readonly kind:
    | 'highAll'
    | 'lowAll'
    | 'flatHigh'
    | 'sharpHigh'
    | 'sinks'
    | 'rises'
    | 'sinksOrHigh'
    | 'risesOrHigh'
    | 'uneven'
    | 'takesApart';
  /** Size, cents: of the whole, for each octave up, over the whole piece, the spread, or from take to take. */
  readonly cents: number;
  /** Half of what the truth lies within in 95 of 100 cases. */
  readonly uncertaintyCents: number;
  /** One or two plain sentences: what it is, and what can be done. */
  readonly sentence: string;
}

/** Of all that is told of all voices, at most this share is to be chance. Source: Benjamini and Hochberg 1995, JRSS B 57. */
const FALSE_SHARE = 0.05;
/** A slope over pitch needs notes over this range, half tones. */
const LEAST_RANGE = 5;
/** The highest and lowest notes that are told of: this share of them. */
const OUTER_SHARE = 0.2;
/** An uneven voice has so many notes at the least. */
const FEWEST_UNEVEN = 8;

/** Something that may be told, with what it would be off by in cents, which has to be heard. */
interface Claim {
  readonly voice: number;
  readonly kind: 'whole' | 'time' | 'height' | 'either';
  readonly estimate: Estimate;
  readonly heardCents: number;
}

/**
 * What each voice does all through, from its notes: told where it can be heard, and where chance would hardly make it. centres, in the
 * order of the voices; drift: of all together. Measured on invented takes without habits, whose notes wander or whose keys are off by
 * themselves: see test/core/pitch/voice-habits.test.ts.
 */
export function voiceHabits(
  voices: readonly TunedVoice[],
  centres: readonly (VoiceCentre | undefined)[],
  reference: Reference,
  drift: PitchDrift | null,
  cancel?: Cancel,
): VoiceHabit[][] {
  const usedCents = 1200 * Math.log2(reference.usedHz / 440);
  const claims = voices.flatMap((voice, n) => {
    const centre = centres[n];
    throwIfCancelled(cancel);
    return centre === undefined ? [] : claimsOf(voice, n, centre, usedCents, reference);
  });
  const told = surest(claims);
  return voices.map(({ name, notes }, n) => {
    const centre = centres[n];
    if (centre === undefined) return [];
    const of = (kind: Claim['kind']): Claim | undefined => told.find((one) => one.voice === n && one.kind === kind);
    const speaker = { name, notes, usedCents, trend: centre.trend };
    const habits: VoiceHabit[] = [];
    const [whole, time, height, either] = [of('whole'), of('time'), of('height'), of('either')];
    const isAlways = time === undefined || isOneWay(speaker, whole);
    if (whole !== undefined && isAlways) habits.push(wholeHabit(speaker, whole));
    if (time !== undefined) habits.push(timeHabit(speaker, time, drift));
    if (height !== undefined) habits.push(heightHabit(speaker, height));
    if (either !== undefined) habits.push(eitherHabit(speaker, either));
    const spread = centre.trend?.spreadCents ?? 0;
    if (spread >= WARN_CENTS && notes.length >= FEWEST_UNEVEN) habits.push(unevenHabit(speaker, spread));
    return habits;
  });
}

interface Speaker {
  readonly name: string;
  readonly notes: readonly TunedNote[];
  readonly usedCents: number;
  readonly trend: PitchTrend | undefined;
}

function claimsOf(
  { notes }: TunedVoice,
  voice: number,
  { cents, estimate, trend }: VoiceCentre,
  usedCents: number,
  reference: Reference,
): Claim[] {
  const off = cents - usedCents;
  const own = reference.given ? 0 : reference.uncertaintyCents;
  const whole = { ...estimate, value: off, uncertainty: Math.hypot(estimate.uncertainty, own) };
  const claims: Claim[] = [{ voice, kind: 'whole', estimate: whole, heardCents: off }];
  if (trend === undefined) return claims;
  const lengthSec = middleSecOf(notes.at(-1)!) - middleSecOf(notes[0]!);
  const keys = notes.map(({ key }) => key);
  const range = Math.max(...keys) - Math.min(...keys);
  const total = scaled(trend.perSec, lengthSec);
  claims.push({ voice, kind: 'time', estimate: total, heardCents: total.value });
  if (range < LEAST_RANGE) return claims;
  const reach = scaled(trend.perKey, range);
  claims.push({ voice, kind: 'height', estimate: reach, heardCents: reach.value });
  // Where each could stand for the other, neither is sure, though one of them surely is.
  const alone = pitchTrend(pointsOf(notes), 'time')!;
  const either = scaled(alone.perSec, lengthSec);
  const isTold = [total, reach].some((one) => chanceOf(one) <= FALSE_SHARE / 2 && Math.abs(one.value) >= HEARD_CENTS);
  if (!isTold) claims.push({ voice, kind: 'either', estimate: either, heardCents: either.value });
  return claims;
}

function pointsOf(notes: readonly TunedNote[]) {
  return notes.map((note) => ({ sec: middleSecOf(note), key: note.key, cents: note.cents - note.targetCents }));
}

/** The claims that are heard and that chance does not explain, by Benjamini and Hochberg's rule over all that were looked at. */
function surest(claims: readonly Claim[]): Claim[] {
  const sorted = claims
    .map((claim) => ({ claim, chance: chanceOf(claim.estimate) }))
    .sort((one, other) => one.chance - other.chance);
  const last = sorted.findLastIndex(({ chance }, at) => chance <= (FALSE_SHARE * (at + 1)) / claims.length);
  return sorted
    .slice(0, last + 1)
    .map(({ claim }) => claim)
    .filter(({ heardCents }) => Math.abs(heardCents) >= HEARD_CENTS);
}

/** Whether a voice that moves is on the same side, and heard to be, at both ends. */
function isOneWay(speaker: Speaker, whole: Claim | undefined): boolean {
  if (whole === undefined) return false;
  return endsOf(speaker).every((end) => Math.abs(end) >= HEARD_CENTS && end * whole.heardCents > 0);
}

/** Off the reference in use at the beginning and at the end, by the trend. */
function endsOf({ notes, usedCents, trend }: Speaker): [number, number] {
  const at = (note: TunedNote): number =>
    trend!.centre.value + trend!.perSec.value * (middleSecOf(note) - trend!.middleSec) - usedCents;
  return [at(notes[0]!), at(notes.at(-1)!)];
}

function wholeHabit({ name }: Speaker, { estimate, heardCents }: Claim): VoiceHabit {
  const isHigh = heardCents > 0;
  const size = Math.abs(heardCents).toFixed(0);
  const minor = Math.abs(heardCents) < WARN_CENTS ? ` ${FEW_MIND}` : '';
  return {
    kind: isHigh ? 'highAll' : 'lowAll',
    cents: heardCents,
    uncertaintyCents: honestDeviation(estimate),
    sentence: `${name} is ${size} cents ${isHigh ? 'sharp' : 'flat'} all through${minor}; moving the whole take ${isHigh ? 'down' : 'up'} by ${size} cents mends it.`,
  };
}

function timeHabit(speaker: Speaker, { estimate, heardCents }: Claim, drift: PitchDrift | null): VoiceHabit {
  const sinks = heardCents < 0;
  const [begin, end] = endsOf(speaker).map(offWords);
  const common = drift?.totalCents ?? 0;
  const isCommon =
    Math.abs(common) >= HEARD_CENTS &&
    common * heardCents > 0 &&
    Math.abs(common - heardCents) <= Math.max(HEARD_CENTS, 2 * estimate.uncertainty);
  return {
    kind: sinks ? 'sinks' : 'rises',
    cents: heardCents,
    uncertaintyCents: honestDeviation(estimate),
    sentence:
      `${speaker.name} ${sinks ? 'sinks' : 'rises'} by ${Math.abs(heardCents).toFixed(0)} cents from beginning to end` +
      (isCommon ? ', as all do.' : `: it begins ${begin} and ends ${end}; a slow curve mends it.`),
  };
}

function heightHabit(speaker: Speaker, { estimate, heardCents }: Claim): VoiceHabit {
  const { name, notes, usedCents, trend } = speaker;
  const range = estimate.value / trend!.perKey.value;
  const offs = [...notes]
    .sort((one, other) => one.key - other.key)
    .map((note) => {
      const inTime = trend!.perSec.value * (middleSecOf(note) - trend!.middleSec);
      return aboveHeight(note, trend!) + trend!.perKey.value * (note.key - trend!.middleKey) - inTime - usedCents;
    });
  const outer = Math.max(2, Math.round(OUTER_SHARE * offs.length));
  const low = offWords(medianOf(offs.slice(0, outer)));
  const high = offWords(medianOf(offs.slice(-outer)));
  return {
    kind: heardCents < 0 ? 'flatHigh' : 'sharpHigh',
    cents: 12 * trend!.perKey.value,
    uncertaintyCents: honestDeviation(scaled(estimate, 12 / range)),
    sentence: `${name} is ${heardCents < 0 ? 'flatter' : 'sharper'} the higher it plays: its lowest notes are ${low}, its highest ${high}.`,
  };
}

function eitherHabit({ name, notes }: Speaker, { estimate, heardCents }: Claim): VoiceHabit {
  const sinks = heardCents < 0;
  return {
    kind: sinks ? 'sinksOrHigh' : 'risesOrHigh',
    cents: heardCents,
    uncertaintyCents: honestDeviation(estimate),
    sentence: `${name} ends ${Math.abs(heardCents).toFixed(0)} cents ${sinks ? 'flatter' : 'sharper'} than it begins, and its notes lie ${climbOf(notes) < 0 ? 'lower' : 'higher'} towards the end: whether that comes from the time or from their height cannot be told from this melody.`,
  };
}

/** Above 0 where notes lie higher towards the end: the sum of products of time and height. */
function climbOf(notes: readonly TunedNote[]): number {
  const middle = notes.reduce((sum, note) => sum + middleSecOf(note), 0) / notes.length;
  return notes.reduce((sum, note) => sum + (middleSecOf(note) - middle) * note.key, 0);
}

function unevenHabit({ name, notes }: Speaker, spread: number): VoiceHabit {
  return {
    kind: 'uneven',
    cents: spread,
    uncertaintyCents: spread / Math.sqrt(2 * notes.length),
    sentence: `${name} is uneven: its notes spread by ${spread.toFixed(0)} cents about their middle.`,
  };
}

/** "in tune", "12 cents flat". */
function offWords(cents: number): string {
  const size = Math.abs(cents).toFixed(0);
  return size === '0' ? 'in tune' : `${size} ${size === '1' ? 'cent' : 'cents'} ${cents > 0 ? 'sharp' : 'flat'}`;
}
