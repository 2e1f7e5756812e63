import { beginPlaces } from './begin-places.ts';
import type { BeginPlace } from './begins.ts';
import { onsetNear } from './onset-time.ts';
import { centsOf, medianOf, pitchOfSpan, type Vibrato } from './pitch-span.ts';
import type { PitchTrack } from './pitch-tracker.ts';
import { medianOfRow, valueAtRank } from './rank.ts';

/** A note as it was played. Times in s of the take. */
export interface HeardNote {
  readonly fromSec: number;
  readonly toSec: number;
  /** When it is heard to begin (see onset-time.ts), and how surely, one standard deviation. */
  readonly onsetSec: number;
  readonly onsetUncertaintySec: number;
  /** Centre of its pitch, Hz, and in cents above A4 = 440 Hz. */
  readonly hz: number;
  readonly cents: number;
  readonly spreadCents: number;
  readonly uncertaintyCents: number;
  readonly vibrato: Vibrato | null;
  readonly levelDbfs: number;
}

/** A gap of this many frames ends a note. */
const LONGEST_GAP = 4;
/** A longer one does not where the same pitch goes on after it and nothing speaks for a beginning: noise has covered it. */
const COVERED_GAP = 12;
/** So far from where the note was, for so many frames: another note, also where nothing else tells. A vibrato comes back before. */
const LEAP_CENTS = 70;
const LEAP_FRAMES = 10;
/** The pitch so far: the median of these frames, a swing of the slowest vibrato. */
const MEMORY_FRAMES = 25;
const SEEN_FRAMES = 4;
/** Places at which a note is taken to begin: more likely than not, so far from the last and from the end of the sound. */
const LEAST_SCORE = 0;
const APART_SEC = 0.06;
const SHORTEST_SEC = 0.06;
/** So long may the last note ring into the next, or the next be there before it is told to begin. */
const RINGING_SEC = 0.1;
const NEAR_LEAP_SEC = 0.07;
const LEAST_NEAR_SCORE = -3;
/** A piece of a note shorter than this, at a simple ratio beside a longer one, is an octave error. */
const SLIP_SEC = 0.16;
const SLIP_CENTS = [1200, 1902, 2400, 2786, 3102, 3600];
/** Notes this far below the loud ones are what rings and what is about, dB. */
const FAINT_DB = 38;

interface Piece {
  from: number;
  to: number;
  cents: number;
  /** When it is told to begin, s; absent where only its pitch begins. */
  beginSec?: number;
  /** A slip has been taken into it. */
  slipped?: boolean;
}

/** Level that notes must pass, dBFS: 38 dB below the loud frames and 6 dB above what the take holds where nobody plays. */
function faintestDbfs(track: Pick<PitchTrack, 'hz' | 'levelsDbfs'>): number {
  const { hz, levelsDbfs } = track;
  const levels = levelsDbfs.slice();
  const pitched = new Float64Array(levels.length);
  let count = 0;
  for (let n = 0; n < levels.length; n++) if (!Number.isNaN(hz[n]!)) pitched[count++] = levels[n]!;
  if (count === 0) return 0;
  const loud = valueAtRank(pitched.subarray(0, count), Math.floor(0.95 * (count - 1)));
  const floor = valueAtRank(levels, Math.floor(0.03 * (levels.length - 1)));
  return Math.max(loud - FAINT_DB, Math.min(floor + 6, loud - 20));
}

/** Parts a track into notes: at rests, where a note is heard to begin anew, and where the pitch goes elsewhere. */
export function heardNotes(track: PitchTrack): HeardNote[] {
  const places = beginPlaces(track);
  const begins = likelyBegins(places);
  const sounds = soundsOf(track, faintestDbfs(track), begins);
  const parted = sounds.flatMap((sound) => atBegins(sound, begins, track)).flatMap((piece) => atLeaps(piece, track));
  const pieces = withoutSlips(settled(parted, places, track), track.hopSec).filter(
    (piece) => (piece.to - piece.from) * track.hopSec >= SHORTEST_SEC,
  );
  return pieces.flatMap((piece) => {
    const fromSec = track.firstSec + piece.from * track.hopSec;
    const toSec = track.firstSec + piece.to * track.hopSec;
    const pitch = pitchOfSpan(track, fromSec, toSec);
    if (pitch === undefined) return [];
    const onset = onsetNear(track, piece.beginSec ?? fromSec, toSec, piece.beginSec !== undefined);
    const { cents, spreadCents, uncertaintyCents, vibrato } = pitch;
    return [
      {
        fromSec,
        toSec,
        onsetSec: onset.sec,
        onsetUncertaintySec: onset.uncertaintySec,
        hz: 440 * 2 ** (cents / 1200),
        cents,
        spreadCents,
        uncertaintyCents,
        vibrato,
        levelDbfs: medianOfRow(track.levelsDbfs.slice(piece.from, piece.to)),
      },
    ];
  });
}

/** The places that are beginnings: of those that lie too near each other the likelier. */
function likelyBegins(places: readonly BeginPlace[]): number[] {
  const kept: BeginPlace[] = [];
  for (const place of places) {
    if (place.score < LEAST_SCORE) continue;
    const last = kept.at(-1);
    if (last === undefined || place.sec - last.sec >= APART_SEC) kept.push(place);
    else if (place.score > last.score) kept[kept.length - 1] = place;
  }
  return kept.map((place) => place.sec);
}

/** Stretches with a pitch, from rest to rest. */
function soundsOf(track: PitchTrack, gate: number, begins: readonly number[]): Piece[] {
  const sounds: Piece[] = [];
  for (let n = 0; n < track.hz.length; n++) {
    if (Number.isNaN(track.hz[n]!) || track.levelsDbfs[n]! < gate) continue;
    const last = sounds.at(-1);
    if (last !== undefined && (n - last.to < LONGEST_GAP || isCovered(last.to, n, track, begins))) last.to = n + 1;
    else sounds.push({ from: n, to: n + 1, cents: 0 });
  }
  return sounds;
}

/** Whether a note goes on over a gap: the same pitch after it, and no beginning. to, from: frames without and with. */
function isCovered(to: number, from: number, track: PitchTrack, begins: readonly number[]): boolean {
  if (from - to > COVERED_GAP) return false;
  const gapSec = track.firstSec + to * track.hopSec;
  const onSec = track.firstSec + from * track.hopSec;
  if (begins.some((sec) => sec > gapSec - 0.05 && sec < onSec + 0.05)) return false;
  return Math.abs(medianBetween(track, from, from + 5) - medianBetween(track, to - 10, to)) < LEAP_CENTS;
}

/** Median of the pitches of the frames from one to before another, cents. */
function medianBetween({ hz }: PitchTrack, from: number, to: number): number {
  const cents = new Float64Array(Math.max(0, to - Math.max(0, from)));
  let count = 0;
  for (let n = Math.max(0, from); n < Math.min(hz.length, to); n++) {
    if (!Number.isNaN(hz[n]!)) cents[count++] = centsOf(hz[n]!);
  }
  return medianOfRow(cents, count);
}

/** Cuts a sound where notes begin in it. */
function atBegins(sound: Piece, begins: readonly number[], track: PitchTrack): Piece[] {
  const pieces: Piece[] = [{ ...sound }];
  for (const sec of begins) {
    const frame = Math.round((sec - track.firstSec) / track.hopSec);
    const last = pieces.at(-1)!;
    if (frame < sound.from - 8 || frame > sound.to - 4) continue;
    if (frame <= last.from + 5) {
      last.beginSec ??= sec;
      continue;
    }
    last.to = frame;
    pieces.push({ from: frame, to: sound.to, cents: 0, beginSec: sec });
  }
  for (const piece of pieces) piece.cents = medianBetween(track, piece.from, piece.to);
  return pieces;
}

/** Cuts a piece where its pitch goes elsewhere and stays there. */
function atLeaps(piece: Piece, track: PitchTrack): Piece[] {
  const pieces: Piece[] = [];
  let memory: number[] = [];
  let away: number[] = [];
  let awayFrom = 0;
  let begun = piece.from;
  let middle = Number.NaN;
  let unseen = 0;
  for (let n = piece.from; n < piece.to; n++) {
    const hz = track.hz[n]!;
    if (Number.isNaN(hz)) continue;
    const cents = centsOf(hz);
    if (Math.abs(cents - middle) > LEAP_CENTS) {
      const settled = away.length > 0 && Math.abs(cents - medianOf(away)) < LEAP_CENTS;
      if (!settled) awayFrom = n;
      if (settled) away.push(cents);
      else away = [cents];
      if (away.length < LEAP_FRAMES) continue;
      pieces.push({ ...piece, from: begun, to: awayFrom, cents: medianOf(memory) });
      begun = awayFrom;
      memory = away;
      middle = medianOf(memory);
      away = [];
      continue;
    }
    away = [];
    memory.push(cents);
    if (memory.length > MEMORY_FRAMES) memory.shift();
    // The middle of many moves little from frame to frame.
    if (memory.length < 2 * SEEN_FRAMES || ++unseen >= SEEN_FRAMES) {
      middle = medianOf(memory);
      unseen = 0;
    }
  }
  const rest = { ...piece, from: begun, cents: medianOf(memory) };
  if (pieces.length > 0) delete rest.beginSec;
  for (const one of pieces.slice(1)) delete one.beginSec;
  return [...pieces, rest];
}

/**
 * Where a note is told to begin shortly before or after its pitch comes, the two are one: the last note still rings into it, or the
 * pitch was there before the level rose. Where nothing was told, the likeliest place near is when it begins.
 */
function settled(pieces: readonly Piece[], places: readonly BeginPlace[], track: PitchTrack): Piece[] {
  const kept: Piece[] = [];
  const short = (piece: Piece): boolean => (piece.to - piece.from) * track.hopSec < RINGING_SEC;
  const touches = (one: Piece, next: Piece): boolean => next.from - one.to <= LONGEST_GAP;
  for (const piece of pieces) {
    const last = kept.at(-1);
    if (last !== undefined && touches(last, piece) && short(last) && kept.length > 0) {
      const isLate = piece.beginSec === undefined && last.beginSec !== undefined;
      const isEarly =
        piece.beginSec !== undefined && last.beginSec === undefined && Math.abs(last.cents - piece.cents) < LEAP_CENTS;
      if (isLate || isEarly) {
        kept[kept.length - 1] = { ...piece, from: last.from, beginSec: (isLate ? last : piece).beginSec! };
        continue;
      }
    }
    kept.push({ ...piece });
  }
  for (const piece of kept) {
    if (piece.beginSec !== undefined) continue;
    const fromSec = track.firstSec + piece.from * track.hopSec;
    let best = LEAST_NEAR_SCORE;
    for (const place of places) {
      if (Math.abs(place.sec - fromSec) >= NEAR_LEAP_SEC || place.score <= best) continue;
      best = place.score;
      piece.beginSec = place.sec;
    }
  }
  return kept;
}

/** Joins what short slips by an octave and the like have cut. */
function withoutSlips(pieces: readonly Piece[], hopSec: number): Piece[] {
  const kept: Piece[] = [];
  const isSlip = (piece: Piece, beside: Piece | undefined): boolean =>
    beside !== undefined &&
    (piece.to - piece.from) * hopSec < SLIP_SEC &&
    beside.to - beside.from > piece.to - piece.from &&
    SLIP_CENTS.some((way) => Math.abs(Math.abs(piece.cents - beside.cents) - way) < 40);
  for (const [index, piece] of pieces.entries()) {
    const before = kept.at(-1);
    const next = pieces[index + 1];
    const touches = before !== undefined && piece.from - before.to <= LONGEST_GAP;
    if (touches && isSlip(piece, before)) before.to = piece.to;
    else if (next !== undefined && next.from - piece.to <= LONGEST_GAP && isSlip(piece, next)) next.from = piece.from;
    else if (touches && before.slipped && Math.abs(before.cents - piece.cents) < LEAP_CENTS) before.to = piece.to;
    else {
      kept.push({ ...piece });
      continue;
    }
    if (before !== undefined) before.slipped = true;
  }
  return kept;
}
