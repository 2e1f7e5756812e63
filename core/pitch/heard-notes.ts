import { onsetNear } from './onset-time.ts';
import { centsOf, medianOf, pitchOfSpan, type Vibrato } from './pitch-span.ts';
import type { PitchTrack } from './pitch-tracker.ts';
import { hopLevels, strokesOf } from './strokes.ts';

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
/** So far from where the note was, for so many frames: another note. */
const LEAP_CENTS = 70;
const LEAP_FRAMES = 4;
/** The pitch so far: the median of these frames. */
const MEMORY_FRAMES = 15;
const SHORTEST_SEC = 0.06;
/** A piece of a note shorter than this, at a simple ratio beside a longer one, is an octave error. */
const SLIP_SEC = 0.16;
const SLIP_CENTS = [1200, 1902, 2400, 2786, 3102, 3600];
/** Notes this far below the loud ones are what rings and what is about, dB. */
const FAINT_DB = 38;

interface Piece {
  from: number;
  to: number;
  cents: number;
  /** A slip has been taken into it. */
  slipped?: boolean;
}

/** Level that notes must pass, dBFS: 38 dB below the loud frames and 6 dB above what the take holds where nobody plays. */
export function faintestDbfs(track: Pick<PitchTrack, 'hz' | 'levelsDbfs'>): number {
  const levels = [...track.levelsDbfs].sort((a, b) => a - b);
  const pitched = [...track.levelsDbfs].filter((_, n) => !Number.isNaN(track.hz[n]!)).sort((a, b) => a - b);
  if (pitched.length === 0) return 0;
  const loud = pitched[Math.floor(0.95 * (pitched.length - 1))]!;
  const floor = levels[Math.floor(0.03 * (levels.length - 1))]!;
  return Math.max(loud - FAINT_DB, Math.min(floor + 6, loud - 20));
}

/** Parts a track into notes: at rests, at leaps, and at strokes of the same pitch. */
export function heardNotes(track: PitchTrack): HeardNote[] {
  const gate = faintestDbfs(track);
  const pieces = withoutSlips(piecesOf(track, gate), track.hopSec);
  const levels = hopLevels(track);
  const parted = pieces.flatMap((piece) => atStrokes(piece, levels, track));
  return parted
    .filter((piece) => (piece.to - piece.from) * track.hopSec >= SHORTEST_SEC)
    .flatMap((piece) => {
      const fromSec = track.firstSec + piece.from * track.hopSec;
      const toSec = track.firstSec + piece.to * track.hopSec;
      const pitch = pitchOfSpan(track, fromSec, toSec);
      if (pitch === undefined) return [];
      const onset = onsetNear(track, fromSec, toSec);
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
          levelDbfs: medianOf([...track.levelsDbfs.subarray(piece.from, piece.to)]),
        },
      ];
    });
}

function piecesOf(track: PitchTrack, gate: number): Piece[] {
  const pieces: Piece[] = [];
  let memory: number[] = [];
  let begun = -1;
  let last = -1;
  let away: number[] = [];
  const end = (to: number): void => {
    if (begun >= 0) pieces.push({ from: begun, to, cents: medianOf(memory) });
    begun = -1;
    memory = [];
    away = [];
  };
  for (let n = 0; n < track.hz.length; n++) {
    const hz = track.hz[n]!;
    if (Number.isNaN(hz) || track.levelsDbfs[n]! < gate) {
      if (begun >= 0 && n - last > LONGEST_GAP) end(last + 1);
      continue;
    }
    const cents = centsOf(hz);
    if (begun >= 0 && Math.abs(cents - medianOf(memory)) > LEAP_CENTS) {
      const settled = away.length === 0 || Math.abs(cents - medianOf(away)) < LEAP_CENTS;
      away = settled ? [...away, cents] : [cents];
      last = n;
      if (away.length < LEAP_FRAMES) continue;
      const fresh = away;
      end(n + 1 - fresh.length);
      begun = n + 1 - fresh.length;
      memory = fresh;
      continue;
    }
    if (begun < 0) begun = n;
    away = [];
    last = n;
    memory.push(cents);
    if (memory.length > MEMORY_FRAMES) memory.shift();
  }
  end(last + 1);
  return pieces;
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

/** Cuts a piece where its pitch is struck anew. */
function atStrokes(piece: Piece, levels: Float64Array, track: PitchTrack): Piece[] {
  const begins = [piece.from, ...strokesOf(piece, levels, track)];
  return begins.map((from, index) => ({ ...piece, from, to: begins[index + 1] ?? piece.to }));
}
