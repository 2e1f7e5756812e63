import type { Sound } from '../signal/sound.ts';
import { mendCentsAt, planNudges, type TakeMend, unwarpedTakeSec, warpedTakeSec } from './mend.ts';
import { placeIn, type Reading, type ReadingPiece, speedOf } from './mended-sound.ts';
import type { SoundLevels } from './sound-levels.ts';
import { bestJump, likenessOfJump } from './splice-search.ts';

/** How a take is mended, and how well it came out. Plain data. */
export interface MendPlan extends Reading {
  /** Farthest that any moment of its music lies from where it should, s. */
  readonly farthestSec: number;
  /** Farthest that the beginning of a nudged stretch does; 0 without nudges. What follows a stretch is led back at leisure. */
  readonly landingSec: number;
  /** Most by which the pitch of a glide is off to bring it there, cents. */
  readonly glideCents: number;
  /** Splices within music; those in rests are not heard and not counted. */
  readonly splices: number;
  /** The worst of them, if there is one: how alike the tones are that are joined, the noise of the room left out. */
  readonly worst: { readonly atSec: number; readonly likeness: number } | null;
}

/** Speeds are rounded to this, so that a slow curve needs few interpolators; far below what is heard. */
const CENTS_STEP = 0.5;
/** The curve is looked at this often, s. */
const CURVE_SEC = 0.25;
const FADE_SEC = 0.02;
/** From this distance on a good splice is taken, then a fair one, then a poor one, then any that spares the attacks, then any; s. */
const SOON_SEC = 0.006;
const FAIR_SEC = 0.014;
const POOR_SEC = 0.02;
const ANY_SEC = 0.028;
const MUST_SEC = 0.045;
/** Likeness of a good splice: the cross-fade then dips by less than 0.1 dB; of a fair one, less than 0.25 dB; of a poor one, 0.7 dB; all made good. */
const GOOD_LIKENESS = 0.985;
const FAIR_LIKENESS = 0.9;
const POOR_LIKENESS = 0.75;
/** So shortly before the end of a glide a fair one is taken, too, s. */
const URGENT_SEC = 0.3;
/** Less alike and faint is noise of the room: a splice is not heard in it. */
const NOISE_LIKENESS = 0.5;
/** The stretch that is compared, s; see splice-search.ts. */
const COMPARED_SEC = 0.04;
/** A jump leads back past its place by this much at most, and best by so much, s. */
const BEYOND_SEC = 0.014;
const BEST_BEYOND_SEC = 0.004;
/** An attack is near that comes within this time, s; the place is then brought nearer from here on. */
const ATTACK_FROM_SEC = 0.05;
const ATTACK_TO_SEC = 0.15;
const BEFORE_ATTACK_SEC = 0.003;
/** Shortest and longest jump, s: periods from 400 Hz down to 41 Hz, more of them above. */
const SHORTEST_SEC = 0.0025;
const LONGEST_SEC = 0.027;
/** What splices leave of a glide is closed by speed: by so many cents gladly, by so many shortly before a nudged stretch at most; after a glide over so many seconds. */
const SOFT_GLIDE_CENTS = 4;
const MOST_GLIDE_CENTS = 10;
const AFTER_SEC = 0.5;
/** Splices lie apart by this at the least, s. */
const APART_SEC = 0.06;
/** What no whole period can bring nearer is left to speed from here on, s: half a period of 70 Hz. */
const CLOSED_SEC = 0.007;
/** A cross-fade of what is less alike than this is not raised any more to keep its level. */
const LEAST_KEPT = -0.8;
/** Nearer than this is there, s. */
const THERE_SEC = 0.00005;
/** In a rest the place is put right when it is off by this much; on its way through a long one, by that much, s. */
const REST_OFF_SEC = 0.0003;
const LONG_REST_OFF_SEC = 0.004;
const LONG_REST_SEC = 0.08;
/** A rest that is worth waiting for in a glide, s. */
const USEFUL_REST_SEC = 0.06;
/** Time per cent of speed. */
const SEC_PER_CENT = Math.LN2 / 1200;

/** A glide in frames of the result: it ends there with that offset of the place. */
interface GlideFrames {
  readonly fromFrame: number;
  readonly toFrame: number;
  readonly endOffset: number;
  /** A nudged stretch begins there, which is to lie right; what follows the last one has time. */
  readonly isTowards: boolean;
}

/** Walks through a take and decides where it is read on, faster or slower; see planMend. */
export class MendWalk {
  readonly #sound: Sound;
  readonly #mend: TakeMend;
  readonly #levels: SoundLevels;
  readonly #rateHz: number;
  readonly #fadeFrames: number;
  readonly #glides: readonly GlideFrames[];
  readonly #pieces: ReadingPiece[];
  #glide = 0;
  #landed = 0;
  /** Speed of the pitch alone, and what is added to close an offset, cents. */
  #base: number;
  #closing = 0;
  #nextCurve: number;
  #nextSplice = 0;
  #farthest = 0;
  #landing = 0;
  #glideCents = 0;
  #splices = 0;
  #worst: MendPlan['worst'] = null;

  constructor(sound: Sound, mend: TakeMend, levels: SoundLevels) {
    const { rateHz } = sound;
    this.#sound = sound;
    this.#mend = mend;
    this.#levels = levels;
    this.#rateHz = rateHz;
    this.#fadeFrames = Math.round(FADE_SEC * rateHz);
    this.#nextCurve = Math.round(CURVE_SEC * rateHz);
    this.#glides = planNudges(mend).glides.map(({ fromSec, toSec }) => {
      const toFrame = warpedTakeSec(mend, toSec) * rateHz;
      const endOffset = toSec * rateHz - toFrame;
      const fromFrame = warpedTakeSec(mend, fromSec) * rateHz;
      return { fromFrame, toFrame, endOffset, isTowards: Math.abs(endOffset) > THERE_SEC * rateHz };
    });
    this.#base = stepped(mendCentsAt(mend, 0));
    const fromPlace = unwarpedTakeSec(mend, 0) * rateHz;
    this.#pieces = [{ atFrame: 0, fromPlace: Math.round(fromPlace), cents: this.#base, fadeFrames: 0, likeness: 1 }];
  }

  /** Decides what happens at a frame of the result; frames in order. */
  step(frame: number): void {
    const rate = this.#rateHz;
    const place = placeIn(this.#pieces.at(-1)!, frame);
    if (frame >= this.#nextCurve) {
      this.#nextCurve += Math.round(CURVE_SEC * rate);
      this.#base = stepped(mendCentsAt(this.#mend, place / rate + CURVE_SEC / 2));
    }
    while (this.#glide < this.#glides.length && this.#glides[this.#glide]!.toFrame <= frame) this.#glide++;
    const glide = this.#glides[this.#glide];
    const isGliding = glide !== undefined && glide.fromFrame <= frame;
    const off = place - unwarpedTakeSec(this.#mend, frame / rate) * rate;
    const isRest = this.#levels.isRest(place, place + this.#fadeFrames);
    if (!isRest) this.#farthest = Math.max(this.#farthest, Math.abs(off));
    if (this.#glide > this.#landed && !isRest) {
      this.#landed = this.#glide;
      if (this.#glides[this.#glide - 1]!.isTowards) this.#landing = Math.max(this.#landing, Math.abs(off));
    }
    const isAtEnd = frame + this.#fadeFrames >= this.#sound.lengthFrames;
    const isThere = !isGliding && this.#base === 0 && Math.abs(off) < THERE_SEC * rate;
    if (isAtEnd) this.#speed(frame, place, 0);
    else if (isThere) this.#beThere(frame, place, off, isRest);
    else if (isRest) this.#inRest(frame, place, off);
    else if (isGliding) this.#inGlide(frame, place, off, glide);
    else this.#inMusic(frame, place, off);
  }

  result(): MendPlan {
    return {
      rateHz: this.#rateHz,
      pieces: this.#pieces,
      farthestSec: this.#farthest / this.#rateHz,
      landingSec: this.#landing / this.#rateHz,
      glideCents: this.#glideCents,
      splices: this.#splices,
      worst: this.#worst,
    };
  }

  /** It is there but for a frame or two: from the next change of speed or rest on it reads the very samples. */
  #beThere(frame: number, place: number, off: number, isRest: boolean): void {
    if (isRest && Math.abs(off) > 0.5 && this.#putRight(frame, place, off)) return;
    this.#speed(frame, place, 0, place - off);
  }

  /** Nothing is heard: the place is simply put right. */
  #inRest(frame: number, place: number, off: number): void {
    const rate = this.#rateHz;
    const isLong = this.#levels.isRest(place, place + LONG_REST_SEC * rate);
    const allowed = (isLong ? LONG_REST_OFF_SEC : REST_OFF_SEC) * rate;
    const right = place - off;
    const isClear = this.#levels.isRest(Math.min(place, right), Math.max(place, right) + this.#fadeFrames);
    if (Math.abs(off) < allowed || !isClear || !this.#putRight(frame, place, off)) this.#speed(frame, place, 0);
  }

  /** Goes where it should be, whatever the sound is like; true when no attack is in the way. */
  #putRight(frame: number, place: number, off: number): boolean {
    if (this.#touchesAttack(place, place - off)) return false;
    this.#closing = 0;
    this.#splice(frame, place, place - off);
    return true;
  }

  /** On the way to another shift: along the glide, with what is left at its end in view. */
  #inGlide(frame: number, place: number, off: number, glide: GlideFrames): void {
    const rate = this.#rateHz;
    const left = Math.max(1, glide.toFrame - frame);
    const drift = (speedOf(this.#base) - 1) * left;
    const wanted = glide.endOffset - (place - frame) - drift;
    const cents = wanted / left / SEC_PER_CENT;
    if (Math.abs(cents) <= SOFT_GLIDE_CENTS) {
      const isClose = Math.abs(cents - this.#closing) < CENTS_STEP;
      this.#speed(frame, place, isClose ? this.#closing : cents);
      return;
    }
    const isRestAhead = this.#levels.hasRest(place, place + left, USEFUL_REST_SEC * rate);
    if (isRestAhead && Math.abs(off) < FAIR_SEC * rate) {
      this.#speed(frame, place, 0);
      return;
    }
    const direction = Math.sign(wanted);
    const size = Math.abs(wanted);
    // The place may run ahead of the glide by 14 ms, so that the last splice comes early enough for what it leaves.
    const ahead = BEYOND_SEC * rate - direction * off;
    const isSpliced = this.#seek(frame, place, off, {
      direction,
      leastFrames: Math.min(SHORTEST_SEC * rate, 0.5 * size),
      // What it leaves must be worth it.
      mostFrames: Math.min(LONGEST_SEC * rate, ahead, 1.5 * size),
      wantedFrames: size,
      isUrgent: left < URGENT_SEC * rate && Math.abs(cents) > MOST_GLIDE_CENTS,
    });
    const isUrgent = left < URGENT_SEC * rate && glide.isTowards;
    const most = Math.min(isUrgent ? MOST_GLIDE_CENTS : SOFT_GLIDE_CENTS, Math.abs(cents));
    if (!isSpliced) this.#speed(frame, place, size < CLOSED_SEC * rate ? direction * most : 0);
  }

  /** Keeps to its place while the pitch moves it away from there. */
  #inMusic(frame: number, place: number, off: number): void {
    const rate = this.#rateHz;
    const size = Math.abs(off);
    // What is struck next should lie right: shortly before it the place is brought as near as it can be.
    const isAttackNear = this.#levels.hasAttack(place + ATTACK_FROM_SEC * rate, place + ATTACK_TO_SEC * rate);
    if (size < (isAttackNear ? BEFORE_ATTACK_SEC : SOON_SEC) * rate) {
      const cents = Math.max(CENTS_STEP, Math.min(SOFT_GLIDE_CENTS, size / (AFTER_SEC * rate) / SEC_PER_CENT));
      this.#speed(frame, place, this.#base === 0 ? -Math.sign(off) * cents : 0);
      return;
    }
    const isSpliced = this.#seek(frame, place, off, {
      direction: -Math.sign(off),
      leastFrames: Math.max(SHORTEST_SEC * rate, size - BEST_BEYOND_SEC * rate),
      mostFrames: Math.min(
        LONGEST_SEC * rate,
        isAttackNear && size < SOON_SEC * rate ? 1.5 * size : size + BEYOND_SEC * rate,
      ),
      wantedFrames: size + (this.#base === 0 || isAttackNear ? 0 : BEST_BEYOND_SEC * rate),
      isUrgent: false,
    });
    if (!isSpliced) this.#speed(frame, place, this.#closing);
  }

  /** Splices where the sound lets it, the more readily the farther it is off; true when it did. */
  #seek(
    frame: number,
    place: number,
    off: number,
    jump: {
      readonly direction: number;
      readonly leastFrames: number;
      readonly mostFrames: number;
      readonly wantedFrames: number;
      readonly isUrgent: boolean;
    },
  ): boolean {
    const offSec = Math.abs(off) / this.#rateHz;
    if (offSec < POOR_SEC && frame < this.#nextSplice) return false;
    const found = bestJump(this.#sound, place, jump.direction, jump);
    const end = place + COMPARED_SEC * this.#rateHz;
    if (found !== undefined && found.likeness < NOISE_LIKENESS && this.#levels.isFaint(place, end)) {
      return this.#putRight(frame, place, off);
    }
    const enough =
      leastLikeness(jump.isUrgent ? Math.max(FAIR_SEC, offSec) : offSec) * this.#levels.mostLikeness(place, end);
    const isSpared = offSec >= MUST_SEC || (found && !this.#touchesAttack(place, place + found.jumpFrames));
    if (found === undefined || found.likeness < enough || !isSpared) return false;
    this.#closing = 0;
    this.#nextSplice = frame + APART_SEC * this.#rateHz;
    this.#splices++;
    const likeness = Math.min(1, found.likeness / Math.max(NOISE_LIKENESS, this.#levels.mostLikeness(place, end)));
    if (likeness < (this.#worst?.likeness ?? 2)) this.#worst = { atSec: frame / this.#rateHz, likeness };
    this.#splice(frame, place, place + found.jumpFrames);
    return true;
  }

  #splice(frame: number, place: number, to: number): void {
    const cents = this.#base + this.#closing;
    // At its own speed it reads the samples themselves.
    const fromPlace = cents === 0 ? Math.round(to) : to;
    const fadeFrames = this.#fadeFrames;
    const likeness = Math.max(LEAST_KEPT, likenessOfJump(this.#sound, place, fromPlace - place, fadeFrames));
    this.#pieces.push({ atFrame: frame, fromPlace, cents, fadeFrames, likeness });
  }

  /** Goes on from where it is, at another speed if need be. closing: cents on top of the pitch's own; to: a place all but there. */
  #speed(frame: number, place: number, closing: number, to = place): void {
    this.#closing = stepped(closing);
    this.#glideCents = Math.max(this.#glideCents, Math.abs(this.#closing));
    const cents = this.#base + this.#closing;
    if (cents === this.#pieces.at(-1)!.cents) return;
    if (cents === 0) this.#splice(frame, place, to);
    else this.#pieces.push({ atFrame: frame, fromPlace: place, cents, fadeFrames: 0, likeness: 1 });
  }

  #touchesAttack(one: number, other: number): boolean {
    return this.#levels.hasAttack(Math.min(one, other), Math.max(one, other) + this.#fadeFrames);
  }
}

/** How alike a splice must be at a distance from the place, s. */
function leastLikeness(offSec: number): number {
  if (offSec < FAIR_SEC) return GOOD_LIKENESS;
  if (offSec < POOR_SEC) return FAIR_LIKENESS;
  return offSec < ANY_SEC ? POOR_LIKENESS : -1;
}

function stepped(cents: number): number {
  return Math.round(cents / CENTS_STEP) * CENTS_STEP;
}
