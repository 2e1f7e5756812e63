import { assertInRange } from '../signal/fault.ts';

/** What the mix is to become. */
export interface MasterAim {
  /** Integrated loudness, LUFS, -40 to -5. */
  readonly targetLufs: number;
  /** Highest true peak, dBTP, -12 to 0. */
  readonly ceilingDbtp: number;
}

/** A stereo mix, measured. */
export interface MasterReading {
  /** -Infinity for silence. */
  readonly integratedLufs: number;
  readonly truePeakDbtp: number;
}

/** Settings of the next pass over the mix. */
export interface MasterTry {
  /** Gain before the limiter. */
  readonly gainDb: number;
  /** What the limiter is set to; at or a little under the wanted ceiling. */
  readonly ceilingDbtp: number;
}

export type MasterStep =
  | { readonly kind: 'again'; readonly next: MasterTry }
  | {
      readonly kind: 'done';
      readonly chosen: MasterTry;
      readonly reading: MasterReading;
      /** Loudness that the limiter cost, LU. */
      readonly lostLu: number;
      /** Plain sentences about what could not be had. */
      readonly notes: readonly string[];
    };

/** The aim is 0.1 LU; half of it is left for the reader's meter. */
const CLOSE_LU = 0.05;
/** What is not met after this many passes is reported as it is. */
const MOST_PASSES = 6;
/**
 * Loudness that the limiter may cost. 6 LU is a mix in which every loud note is held down: past it the sound, not only
 * its peaks, is changed.
 */
const MOST_LOST_LU = 6;
/** Where the limiter's cost is what counts, this near to its bound is near enough. */
const NEAR_LOST_LU = 0.5;
/** A gain past this lifts the noise of an all but silent mix. */
const MOST_GAIN_DB = 60;
const LEAST_SLOPE = 0.15;

interface Tried extends MasterTry {
  readonly lufs: number;
}

/**
 * Finds the gain before the limiter with which a mix reaches its target loudness while its true peak stays under the
 * ceiling. It renders nothing itself: the caller makes each pass that it asks for, measures it, and tells.
 *
 * The first pass has the gain that would be right without a limiter. What the limiter costs grows about with the square of
 * how far the peaks pass the ceiling, which gives the second; then the secant through the two nearest. Usually one pass
 * when the limiter hardly works, two or three when it does. Where target and ceiling cannot both be had without the limiter
 * taking more than 6 LU of loudness, the ceiling is kept, the mix stays softer, and a note says so.
 */
export class MasterSearch {
  readonly #aim: MasterAim;
  readonly #unlimited: MasterReading;
  readonly #tried: Tried[] = [];
  #next: MasterTry;
  #bestReading: MasterReading;

  /** unlimited: the sum of the voices, measured before any gain. */
  constructor(aim: MasterAim, unlimited: MasterReading) {
    assertInRange('targetLufs', aim.targetLufs, -40, -5);
    assertInRange('ceilingDbtp', aim.ceilingDbtp, -12, 0);
    this.#aim = aim;
    this.#unlimited = unlimited;
    this.#bestReading = unlimited;
    const wanted = aim.targetLufs - unlimited.integratedLufs;
    const gainDb = Number.isFinite(wanted) ? Math.min(MOST_GAIN_DB, wanted) : 0;
    this.#next = { gainDb, ceilingDbtp: aim.ceilingDbtp };
  }

  /** The pass to make next; the first one is there from the start. */
  get next(): MasterTry {
    return this.#next;
  }

  /** Takes what the pass that `next` asked for measured. */
  report(reading: MasterReading): MasterStep {
    const made = this.#next;
    this.#bestReading = reading;
    this.#tried.push({ ...made, lufs: reading.integratedLufs });
    if (!Number.isFinite(reading.integratedLufs)) {
      return this.#done(['The mix is silent, or shorter than 0.4 s, so its loudness could not be set.']);
    }
    const missing = this.#aim.targetLufs - reading.integratedLufs;
    const over = reading.truePeakDbtp - this.#aim.ceilingDbtp;
    const passesLeft = this.#tried.length < MOST_PASSES;
    if (over > 0 && passesLeft) return this.#again(made.gainDb, made.ceilingDbtp - over - 0.01);
    if (Math.abs(missing) <= CLOSE_LU) return this.#done([]);
    if (made.gainDb >= MOST_GAIN_DB && missing > 0) {
      return this.#done([
        `The mix is so quiet that ${MOST_GAIN_DB} dB of gain leave it ${missing.toFixed(1)} LU under the target.`,
      ]);
    }
    if (!passesLeft) {
      const side = missing > 0 ? 'under' : 'over';
      return this.#done([`The loudness came out ${Math.abs(missing).toFixed(2)} LU ${side} the target.`]);
    }
    const gainDb = Math.min(MOST_GAIN_DB, made.gainDb + missing / this.#slope(missing));
    const lostThere = this.#unlimited.integratedLufs + gainDb - this.#aim.targetLufs;
    if (lostThere > MOST_LOST_LU) {
      if (Math.abs(this.#lossOf(this.#tried.at(-1)!) - MOST_LOST_LU) < NEAR_LOST_LU) {
        return this.#done([this.#tooLoudNote(missing)]);
      }
      return this.#again(this.#gainThatLoses(MOST_LOST_LU), made.ceilingDbtp);
    }
    return this.#again(gainDb, made.ceilingDbtp);
  }

  #again(gainDb: number, ceilingDbtp: number): MasterStep {
    this.#next = { gainDb, ceilingDbtp };
    return { kind: 'again', next: this.#next };
  }

  #done(notes: readonly string[]): MasterStep {
    const chosen = this.#next;
    const lost = this.#unlimited.integratedLufs + chosen.gainDb - this.#bestReading.integratedLufs;
    return {
      kind: 'done',
      chosen,
      reading: this.#bestReading,
      lostLu: Number.isFinite(lost) ? Math.max(0, lost) : 0,
      notes,
    };
  }

  /** LU of loudness per dB of gain near the last pass. */
  #slope(missing: number): number {
    const last = this.#tried.at(-1)!;
    const before = this.#tried.at(-2);
    if (before !== undefined && Math.abs(last.gainDb - before.gainDb) > 1e-3) {
      const secant = (last.lufs - before.lufs) / (last.gainDb - before.gainDb);
      return Math.max(LEAST_SLOPE, Math.min(1.2, secant));
    }
    // loss = k (gain - onset)^2, with the onset where the highest peak meets the ceiling.
    const pastOnset = this.#unlimited.truePeakDbtp + last.gainDb - this.#aim.ceilingDbtp;
    return pastOnset > 0.1 && missing > 0 ? Math.max(2 * LEAST_SLOPE, 1 - (2 * missing) / pastOnset) : 1;
  }

  /** LU that the limiter cost in a pass. */
  #lossOf(one: Tried): number {
    return this.#unlimited.integratedLufs + one.gainDb - one.lufs;
  }

  /** The gain at which the limiter costs so much, by the last two passes, or by the square law from one. */
  #gainThatLoses(lossLu: number): number {
    const last = this.#tried.at(-1)!;
    const before = this.#tried.at(-2);
    const loss = this.#lossOf(last);
    const pastOnset = Math.max(1, this.#unlimited.truePeakDbtp + last.gainDb - this.#aim.ceilingDbtp);
    const slope =
      before !== undefined && Math.abs(last.gainDb - before.gainDb) > 1e-3
        ? (loss - this.#lossOf(before)) / (last.gainDb - before.gainDb)
        : (2 * loss) / pastOnset;
    return last.gainDb + (lossLu - loss) / Math.max(0.2, Math.min(1, slope));
  }

  #tooLoudNote(missing: number): string {
    return (
      `The mix stays ${missing.toFixed(1)} LU under the target of ${this.#aim.targetLufs} LUFS: to get there under a ceiling ` +
      `of ${this.#aim.ceilingDbtp} dBTP the limiter would take more than ${MOST_LOST_LU} LU of loudness, which is heard as squashed. ` +
      'Choose a lower target, or soften the loudest moments.'
    );
  }
}
