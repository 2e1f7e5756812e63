import { MOST_CANDIDATES } from './candidates.ts';
import { NumberRow } from './number-row.ts';

/**
 * Costs of the way from frame to frame, nats; found by trial on 14 takes of sampled instruments in rooms (hops of 10 ms). A pitch that
 * glides costs its way; a leap costs no more than a cap, since instruments leap where voices glide. Beginning and ending
 * a sound costs, so that single odd frames do neither.
 */
const GLIDE_FREE_CENTS = 30;
const GLIDE_CENTS = 40;
const LEAP = 8;
const TURN_ON = 4;
const TURN_OFF = 4;
/** What a candidate of no probability costs. */
const LEAST = 1e-4;
/** Windows overlap by seven eighths: a frame's evidence is told again by its neighbours, and counts for less. */
const TRUST = 0.2;
/**
 * How much what lies beside a candidate's partials speaks against it (power of the ratio to the least rest), and, in nats,
 * partials that stand alone and hollow patterns. With these, partials stronger than all others no longer pass for the pitch,
 * nor do common fractions of a note and what rings of the last one: no octave error was left in 14 takes with known notes.
 */
const REST_WEIGHT = 2;
const ALONE_WEIGHT = 6;
const HOLLOW_WEIGHT = 8;
const OVERLOOKED_WEIGHT = 8;
/**
 * Partials that stand clear (`Refined.standing`) tell a pitch in breath and bow noise, where the sound hardly repeats. Median of
 * them on two takes whose breath is as loud as the tone: 4.5 and 6.5; on noise, white, brown and of three formants: 0 to 1.5, 2 at
 * most in 99 frames of 100. From the first of these on there may be a pitch, at the last there is, this surely.
 */
const STANDING_FROM = 2;
const STANDING_SURE = 3;
const STANDING_VOICING = 0.97;
/**
 * What one more of them speaks for a candidate where nothing repeats, nats; less where the sound does, since below 70 Hz partials lie
 * too near each other to stand clear, and a low note's octave would.
 */
const STANDING_WEIGHT = 1.5;
const SILENT = MOST_CANDIDATES;
/** Where each state of a frame came from is kept as one number, a digit a state. */
const DIGITS = Float64Array.from({ length: SILENT + 1 }, (_, state) => (SILENT + 1) ** state);
/** Every so many frames what all ways that are still open share is settled. */
const SETTLE_FRAMES = 64;
/**
 * Should two ways stay open for so many frames, the likelier is taken for the older half: 10 s. In 18 min of takes every way was
 * settled at the first turn.
 */
const MOST_OPEN = 1024;

/** A candidate of a frame. */
export interface FrameCandidates {
  readonly count: number;
  readonly hz: Float64Array;
  readonly probabilities: Float64Array;
  readonly shares: Float64Array;
  readonly rests: Float64Array;
  readonly alone: Float64Array;
  readonly hollow: Float64Array;
  readonly overlooked: Float64Array;
  readonly standing: Float64Array;
  readonly voicing: number;
}

/**
 * The likeliest way through the candidates of all frames, with a state for no pitch. Viterbi's search over each frame's own
 * candidates instead of a fixed grid of pitches: the same model as pYIN's (Mauch and Dixon 2014, section 2.2) with
 * other costs, and as fine as the candidates are. What all open ways share is settled as it goes. Memory: three numbers a frame.
 */
export class PitchPath {
  /** Of the frames that are settled. */
  readonly #settledHz = new NumberRow();
  readonly #settledShares = new NumberRow();
  readonly #settledHollow = new NumberRow();
  /** Of the frames that are open: the candidates, and where the best way to each comes from. */
  readonly #hz = new Float64Array(MOST_OPEN * SILENT);
  readonly #shares = new Float64Array(MOST_OPEN * SILENT);
  readonly #hollow = new Float64Array(MOST_OPEN * SILENT);
  readonly #from = new Float64Array(MOST_OPEN);
  readonly #way = new Uint8Array(MOST_OPEN);
  #open = 0;
  #costs = new Float64Array(SILENT + 1).fill(Number.POSITIVE_INFINITY);
  #next = new Float64Array(SILENT + 1);
  readonly #likely = new Float64Array(SILENT);
  readonly #cents = new Float64Array(SILENT);
  readonly #beforeCents = new Float64Array(SILENT);

  /** How many frames are settled. */
  get settled(): number {
    return this.#settledHz.length;
  }

  /** Pitch of a settled frame, Hz; NaN where there is none. */
  hzAt(frame: number): number {
    return this.#settledHz.at(frame);
  }

  /** canSound: whether the frame is loud enough to hold a note at all. */
  add(found: FrameCandidates, canSound: boolean): void {
    const { count, hz, probabilities, shares, rests, alone, hollow, overlooked, standing } = found;
    const first = this.#open + this.settled === 0;
    const likely = this.#likely;
    let least = 1;
    let most = 0;
    for (let n = 0; n < count; n++) {
      least = Math.min(least, rests[n]!);
      most = Math.max(most, standing[n]!);
    }
    let sum = 1e-12;
    let stands = 0;
    for (let n = 0; n < count; n++) {
      likely[n] =
        probabilities[n]! *
        (least / rests[n]!) ** REST_WEIGHT *
        Math.exp(
          STANDING_WEIGHT * (1 - found.voicing) * (standing[n]! - most) -
            ALONE_WEIGHT * alone[n]! -
            HOLLOW_WEIGHT * hollow[n]! -
            OVERLOOKED_WEIGHT * overlooked[n]!,
        );
      sum += likely[n]!;
      const share = (standing[n]! - STANDING_FROM) / (STANDING_SURE - STANDING_FROM);
      stands += likely[n]! * Math.max(0, Math.min(1, share));
    }
    const voicing = Math.max(found.voicing, (STANDING_VOICING * stands) / sum);
    let packed = 0;
    for (let state = 0; state <= SILENT; state++) {
      let own = Number.POSITIVE_INFINITY;
      if (state === SILENT) own = -TRUST * Math.log(Math.max(LEAST, canSound ? 1 - voicing : 1));
      else if (state < count) {
        this.#cents[state] = 1200 * Math.log2(hz[state]!);
        if (canSound) own = -TRUST * Math.log(Math.max(LEAST, (voicing * likely[state]!) / sum));
      }
      let best = SILENT;
      let cost = first ? 0 : Number.POSITIVE_INFINITY;
      for (let before = 0; before <= SILENT && !first && own < Number.POSITIVE_INFINITY; before++) {
        const one = this.#costs[before]! + this.#wayCost(before, state);
        if (one < cost) {
          cost = one;
          best = before;
        }
      }
      this.#next[state] = cost + own;
      packed += best * DIGITS[state]!;
    }
    for (let n = 0; n < SILENT; n++) {
      const at = this.#open * SILENT + n;
      this.#hz[at] = n < count ? hz[n]! : 0;
      this.#shares[at] = n < count ? shares[n]! : 0;
      this.#hollow[at] = n < count ? hollow[n]! : 0;
      this.#beforeCents[n] = this.#cents[n]!;
    }
    this.#from[this.#open++] = packed;
    // Kept small: only differences count.
    let lowest = Number.POSITIVE_INFINITY;
    for (const cost of this.#next) lowest = Math.min(lowest, cost);
    for (let n = 0; n <= SILENT; n++) this.#next[n]! -= lowest;
    [this.#costs, this.#next] = [this.#next, this.#costs];
    if (this.#open % SETTLE_FRAMES === 0) this.#settleShared();
    if (this.#open === MOST_OPEN) this.#settle(this.#likeliest(), this.#open, MOST_OPEN / 2);
  }

  /** Hz of each frame, NaN where there is no pitch, the share of the power in its partials, and where it is hollow. */
  result(): { hz: Float64Array; shares: Float64Array; hollow: Float64Array } {
    this.#settle(this.#likeliest(), this.#open, this.#open);
    return {
      hz: this.#settledHz.toArray(),
      shares: this.#settledShares.toArray(),
      hollow: this.#settledHollow.toArray(),
    };
  }

  /** State at the end of the likeliest way. */
  #likeliest(): number {
    let state = 0;
    for (let n = 1; n <= SILENT; n++) if (this.#costs[n]! < this.#costs[state]!) state = n;
    return state;
  }

  /** Where a way that is at `state` in an open frame was in the frame before. */
  #cameFrom(frame: number, state: number): number {
    return Math.floor(this.#from[frame]! / DIGITS[state]!) % (SILENT + 1);
  }

  /** Settles the frames through which all ways that can still become the likeliest go alike. */
  #settleShared(): void {
    // A set of states, a bit each.
    let states = 0;
    for (let n = 0; n <= SILENT; n++) if (this.#costs[n]! < Number.POSITIVE_INFINITY) states |= 1 << n;
    for (let frame = this.#open - 1; frame >= 0; frame--) {
      if ((states & (states - 1)) === 0) {
        this.#settle(31 - Math.clz32(states), frame + 1, frame + 1);
        return;
      }
      let before = 0;
      for (let n = 0; n <= SILENT; n++) if ((states & (1 << n)) !== 0) before |= 1 << this.#cameFrom(frame, n);
      states = before;
    }
  }

  /** Follows the way back that is at `state` in the last of the first `known` open frames, and settles the first `count` by it. */
  #settle(state: number, known: number, count: number): void {
    for (let frame = known - 1, at = state; frame >= 0; frame--) {
      this.#way[frame] = at;
      at = this.#cameFrom(frame, at);
    }
    for (let frame = 0; frame < count; frame++) {
      const at = this.#way[frame]!;
      const isPitched = at < SILENT;
      this.#settledHz.push(isPitched ? this.#hz[frame * SILENT + at]! : Number.NaN);
      this.#settledShares.push(isPitched ? this.#shares[frame * SILENT + at]! : 0);
      this.#settledHollow.push(isPitched ? this.#hollow[frame * SILENT + at]! : 0);
    }
    for (const row of [this.#hz, this.#shares, this.#hollow]) row.copyWithin(0, count * SILENT, this.#open * SILENT);
    this.#from.copyWithin(0, count, this.#open);
    this.#open -= count;
  }

  #wayCost(before: number, state: number): number {
    if (before === SILENT) return state === SILENT ? 0 : TURN_ON;
    if (state === SILENT) return TURN_OFF;
    const way = Math.abs(this.#cents[state]! - this.#beforeCents[before]!) - GLIDE_FREE_CENTS;
    return way <= 0 ? 0 : Math.min(LEAP, way / GLIDE_CENTS);
  }
}
