import type { Sound } from '../signal/sound.ts';
import type { PitchTrack } from './pitch-tracker.ts';
import { valueAtRank } from './rank.ts';
import { type Second, SecondLook, WINDOW_SEC } from './second-look.ts';

/** A moment at which another pitch stood beside the one that is followed. */
export interface Beside {
  /** Middle of the window, s of the take. */
  readonly sec: number;
  /** The pitch that is followed and the other, Hz. */
  readonly firstHz: number;
  readonly hz: number;
  /** The other's own partials to those of the first, dB. */
  readonly levelDb: number;
  /** Since when the track has not been on it, s; endless where it was not within AGO_SEC. */
  readonly agoSec: number;
  /** How fast it grows (below 0: dies away), dB/s. */
  readonly riseDbPerSec: number;
  /** Whether the take may be of one note at a time of which the last rings on, longer than a room would let it. */
  readonly isRinging: boolean;
}

/** What was found beside the pitch of a take. Plain JSON. */
export interface SecondPitch {
  /** Moments that were looked at, s of the take, in order. */
  readonly lookedSec: readonly number[];
  /** Those at which a second note sounds. */
  readonly found: readonly Beside[];
  /**
   * Of the hollow frames of the track those that hold one whole tone, whose first partial the microphone kept back, 0 to 1; 0 where it cannot
   * be told.
   */
  readonly wholeShare: number;
}

type LookedTrack = Pick<PitchTrack, 'hz' | 'hollow' | 'levelsDbfs' | 'hopSec' | 'firstSec'>;

/** Only notes this near the loud ones, dB: what leaks out of headphones lies 26 dB and more below the voice (guide-leak.ts). */
const LOUD_DB = 12;
const LOUD_SHARE = 0.95;
/** Of so many frames one tells how loud the take is. */
const LEVEL_EACH = 4;
/** The pitch stays within this ratio through the window, and counts as moving by half of it or at most so much. */
const STEADY_RATIO = 1.05;
const MOST_SPREAD = 0.03;
/**
 * Moments looked at stand so many frames apart at least; of FIRST_LOOKS over the whole take one has to show something, or no more are looked
 * at.
 */
const APART_FRAMES = 5;
const MOST_LOOKS = 200;
const FIRST_LOOKS = 50;
/** What sounds where nobody plays is learnt at some of the quietest frames, where these lie well below the loud ones. */
const QUIET_LOOKS = 6;
const QUIET_SHARE = 0.08;
const QUIET_DB = 15;
/** A note of another player has two partials of its own at least, lacks at most one of its first four, and is no softer than this, dB. */
const LEAST_PARTIALS = 2;
const MOST_MISSING = 1;
const LEAST_DB = -15;
const LEAST_RATIO = 10 ** (LEAST_DB / 10);
/** The ratios within which pitches count as one, and as an octave, a twelfth and so on. */
const SAME = 0.03;
const HALF_WAY = 0.006;
const MOST_RATIO = 6;
/** A second look at the same note, in frames: later, else before. */
const AGAIN_FRAMES = [10, 6, -10, -6];
/** How fast a held note may seem to rise and fall between the two looks, dB/s; and one that may be the last note's ring. */
const MOST_RISE = 25;
const MOST_FALL = -25;
const MOST_RINGING_FALL = -20;
const LEAST_RINGING_DB = -12;
/**
 * What the track was on less than so long ago may be that note's ring: a string's or a bar's where it dies away faster than a player's held
 * note does, or the room's. A room of 1.8 s (T60), the slowest looked at, lets it fall by 33 dB/s from no more than 3 dB above the next note.
 * HELD_FALL was added when a steel guitar, of the instruments held out, was refused for strings that rang on; it was set on the others.
 */
const AGO_SEC = 2;
const HELD_FALL = -8;
const ROOM_DB_PER_SEC = 33;
const ROOM_DB = 3;
const JUST_LEFT_SEC = 0.1;
const RELATED = [1, 2, 1 / 2, 3, 1 / 3];
/** So many of the hollow frames are looked at, where a few can be. */
const HOLLOW_LOOKS = 30;
const FEWEST_HOLLOW = 3;

/**
 * Looks at up to 200 moments of a take for a second note beside the pitch that was followed: one that does not come and go within a
 * note, is no octave, twelfth or common fraction of the first, is not what sounds where nobody plays, and is not the last note
 * ringing on in the room. Octaves cannot be told, nor can a fifth above: its own partials are those of a tone an octave below that lacks some.
 * sound: the take the track was made of, from its time 0.
 */
export function secondPitch(sound: Sound, track: LookedTrack): SecondPitch {
  const loudDbfs = levelAtShare(track, LOUD_SHARE, true);
  const steady = new SteadyFrames(track, loudDbfs - LOUD_DB);
  const places = placesOf(steady, track.hz.length);
  if (places.length === 0) return { lookedSec: [], found: [], wholeShare: 0 };
  const look = new SecondLook(sound);
  learnQuiet(look, track, Math.min(loudDbfs - QUIET_DB, levelAtShare(track, QUIET_SHARE, false)));
  const found: Beside[] = [];
  const seen: number[] = [];
  const stride = Math.max(1, Math.floor(places.length / FIRST_LOOKS));
  for (let first = 0; first < stride; first++) {
    for (let at = first; at < places.length; at += stride) {
      const n = places[at]!;
      seen.push(n);
      const beside = besideAt(look, track, steady, n);
      if (beside !== undefined) found.push(beside);
    }
    if (found.length === 0) break;
  }
  return {
    lookedSec: seen.sort((a, b) => a - b).map((n) => track.firstSec + n * track.hopSec),
    found: found.sort((one, other) => one.sec - other.sec),
    wholeShare: wholeShareOf(look, track, steady),
  };
}

/** The level that a share of the frames do not pass, of some of the frames; isPitched: of those with a pitch. dBFS; 0 without any. */
function levelAtShare({ hz, levelsDbfs }: LookedTrack, share: number, isPitched: boolean): number {
  const levels = new Float64Array(Math.ceil(hz.length / LEVEL_EACH));
  let count = 0;
  for (let n = 0; n < hz.length; n += LEVEL_EACH) {
    if (!isPitched || hz[n]! > 0) levels[count++] = levelsDbfs[n]!;
  }
  return count === 0 ? 0 : valueAtRank(levels.subarray(0, count), Math.floor(share * (count - 1)));
}

/** Tells frames about which the pitch keeps still for the length of a window, in notes that are loud enough. */
class SteadyFrames {
  readonly #track: LookedTrack;
  readonly #leastDbfs: number;
  readonly #half: number;

  constructor(track: LookedTrack, leastDbfs: number) {
    this.#track = track;
    this.#leastDbfs = leastDbfs;
    this.#half = Math.round((0.5 * WINDOW_SEC) / track.hopSec) - 1;
  }

  /** By how much the pitch moves about a frame, a ratio; NaN where the frame is no place to look at. */
  spreadAt(n: number): number {
    const { hz, levelsDbfs } = this.#track;
    const half = this.#half;
    if (n <= half || n >= hz.length - half - 1 || levelsDbfs[n]! < this.#leastDbfs) return Number.NaN;
    let low = hz[n]!;
    let high = low;
    for (let m = n - half; m <= n + half; m++) {
      const one = hz[m]!;
      if (one > high) high = one;
      else if (one < low) low = one;
      // Also where there is no pitch.
      if (!(one >= low) || !(high <= STEADY_RATIO * low)) return Number.NaN;
    }
    return Math.min(MOST_SPREAD, 0.5 * (high / low - 1));
  }
}

/** Frames to look at, MOST_LOOKS at most, spread evenly over those that can be looked at. */
function placesOf(steady: SteadyFrames, frames: number): number[] {
  const all: number[] = [];
  for (let n = 0; n < frames; n += APART_FRAMES) if (!Number.isNaN(steady.spreadAt(n))) all.push(n);
  const step = Math.max(1, all.length / MOST_LOOKS);
  const places: number[] = [];
  for (let at = 0; at < all.length; at += step) places.push(all[Math.floor(at)]!);
  return places;
}

function learnQuiet(look: SecondLook, { levelsDbfs, firstSec, hopSec }: LookedTrack, quietDbfs: number): void {
  const places: number[] = [];
  for (let n = 0; n < levelsDbfs.length; n += APART_FRAMES) if (levelsDbfs[n]! <= quietDbfs) places.push(n);
  const step = Math.max(1, places.length / QUIET_LOOKS);
  for (let at = 0; at < places.length; at += step) look.learnQuiet(firstSec + places[Math.floor(at)]! * hopSec);
}

function wholeShareOf(look: SecondLook, { hz, hollow, firstSec, hopSec }: LookedTrack, steady: SteadyFrames): number {
  const places: number[] = [];
  for (let n = 0; n < hz.length; n++) if (hollow[n]! > 0 && !Number.isNaN(steady.spreadAt(n))) places.push(n);
  if (places.length < FEWEST_HOLLOW) return 0;
  const step = Math.max(1, places.length / HOLLOW_LOOKS);
  let looked = 0;
  let whole = 0;
  for (let at = 0; at < places.length; at += step) {
    const n = places[Math.floor(at)]!;
    look.lookAt(firstSec + n * hopSec, hz[n]!, steady.spreadAt(n));
    looked++;
    if (look.isWhole(hz[n]!)) whole++;
  }
  return whole / looked;
}

/** The second note at a frame; undefined where there is none. */
function besideAt(look: SecondLook, track: LookedTrack, steady: SteadyFrames, n: number): Beside | undefined {
  const { hz, firstSec, hopSec } = track;
  const firstHz = hz[n]!;
  look.lookAt(firstSec + n * hopSec, firstHz, steady.spreadAt(n));
  const second = look.second(LEAST_RATIO);
  const levelDb = 10 * Math.log10(second.power / (second.firstPower + 1e-30));
  if (!isNote(second, levelDb) || isOneTone(second.hz / firstHz)) return undefined;
  const { hz: besideHz, power } = second;
  const riseDbPerSec = riseOf(look, track, steady, n, besideHz, power);
  if (!(riseDbPerSec <= MOST_RISE && riseDbPerSec >= MOST_FALL)) return undefined;
  const agoSec = agoOf(track, n, besideHz);
  const isNew = levelDb > ROOM_DB - ROOM_DB_PER_SEC * agoSec && (agoSec >= AGO_SEC || riseDbPerSec > HELD_FALL);
  const rings = agoSec > JUST_LEFT_SEC && riseDbPerSec > MOST_RINGING_FALL && levelDb > LEAST_RINGING_DB;
  if (!isNew && !rings) return undefined;
  return { sec: firstSec + n * hopSec, firstHz, hz: besideHz, levelDb, agoSec, riseDbPerSec, isRinging: !isNew };
}

function isNote({ hz, partials, missing }: Readonly<Second>, levelDb: number): boolean {
  return hz > 0 && levelDb >= LEAST_DB && partials >= LEAST_PARTIALS && missing <= MOST_MISSING;
}

/**
 * Whether both pitches may be one tone's: a whole number of times one another, or the second half way between (3/2, 5/2, ...), where the odd
 * partials of a tone an octave below the first lie; an organ's quint lies there too.
 */
function isOneTone(ratio: number): boolean {
  const down = Math.round(1 / ratio);
  if (down >= 1 && down <= MOST_RATIO && Math.abs(1 / ratio / down - 1) < SAME) return true;
  const halves = Math.round(2 * ratio);
  return halves >= 2 && Math.abs((2 * ratio) / halves - 1) < 2 * HALF_WAY;
}

/** How fast a pitch grows, seen by a second look while the first lasts, dB/s; NaN where the first does not last. */
function riseOf(
  look: SecondLook,
  { hz, firstSec, hopSec }: LookedTrack,
  steady: SteadyFrames,
  n: number,
  besideHz: number,
  power: number,
): number {
  for (const by of AGAIN_FRAMES) {
    const spread = steady.spreadAt(n + by);
    if (Number.isNaN(spread) || Math.abs(hz[n + by]! / hz[n]! - 1) > SAME) continue;
    look.lookAt(firstSec + (n + by) * hopSec, hz[n + by]!, spread);
    return (10 * Math.log10((look.powerOf(besideHz) + 1e-9 * power) / power)) / (by * hopSec);
  }
  return Number.NaN;
}

/** How long before a frame the track was on a pitch, or an octave or a twelfth off it, s. */
function agoOf({ hz, hopSec }: LookedTrack, n: number, besideHz: number): number {
  const frames = Math.min(n, Math.round(AGO_SEC / hopSec));
  for (let ago = 0; ago <= frames; ago++) {
    const ratio = besideHz / hz[n - ago]!;
    for (const way of RELATED) if (Math.abs(ratio / way - 1) < SAME) return ago * hopSec;
  }
  return Number.POSITIVE_INFINITY;
}
