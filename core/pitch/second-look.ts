import { RealFft } from '../signal/fft.ts';
import type { Sound } from '../signal/sound.ts';
import { makeWindow } from '../signal/window.ts';

/** A window lasts about this long, s: notes half a tone apart then stand alone from 260 Hz on. A power of two in frames. */
export const WINDOW_SEC = 0.17;
const LOWEST_HZ = 45;
const HIGHEST_HZ = 5000;
/** What stands 40 dB below the strongest is not looked at; the window's own skirts lie 58 dB down (Blackman; Harris 1978). */
const WORTH = 1e-4;
const MOST_PEAKS = 80;
/** A peak stands 8 dB above what lies two to four bins from it on both sides. */
const STANDS = 0.15;
/** What sounds where nobody plays (hum, a fan) counts up to 6 dB above its level there. */
const ABOVE_QUIET = 4;
/** A partial may lie so far from its place: bins of the window, a share of its frequency, and stiffness times the square of its number. */
const OWN_BINS = 2;
const OWN_SHARE = 0.02;
const STIFFNESS = 2e-4;
const OTHER_BINS = 1.2;
const OTHER_SHARE = 0.008;
/** A second pitch is sought on the strongest peaks that are left, each taken for one of the first partials. */
const TRIED_PEAKS = 5;
const TRIED_NUMBERS = 4;
const PARTIALS = 8;
const LOWEST_SECOND_HZ = 60;
const HIGHEST_SECOND_HZ = 2500;
/** Of the first four partials each that is missing takes a fifth of what speaks for a pitch. */
const MISSED = 0.2;
const COUNTED_MISSED = 4;
/** Another choice has to be better by this, so that of equal ones the highest pitch stays. */
const BETTER = 1.02;

/**
 * Partials that tell one tone from a chord; they count within 30 dB of the strongest, and no farther from their place than this share of the
 * way to the next.
 */
const TELLING = [7, 11, 13];
const OWN_SHARE_OF_GAP = 0.3;
const TELLING_NEEDED = 2;
const TELLING_WORTH = 1e-3;

/** A second pitch in one window, as it was found; the record is used again. */
export interface Second {
  /** Hz; 0 where there is none. */
  hz: number;
  /** Power of its partials that are none of the first pitch's, and of all of the first's: squares of the window's bins. */
  power: number;
  firstPower: number;
  /** Its partials that stand alone, and those of the first four that are neither there nor hidden by the first's. */
  partials: number;
  missing: number;
}

/**
 * Looks for a second pitch in single windows of a sound: peaks of the spectrum, less those that are partials of a pitch that is known, and
 * what is left taken for partials of another. Source: the way of iterative cancellation (de Cheveigne 1993, "Separation of concurrent harmonic
 * sounds", JASA 93; Klapuri 2003, "Multiple fundamental frequency estimation based on harmonicity and spectral smoothness", IEEE Trans. SAP
 * 11(6)); that a pitch is scored by the sum of its partials' magnitudes is Klapuri 2006, "Multiple fundamental frequency estimation by summing
 * harmonic amplitudes", ISMIR (all three from memory). Rate 8 kHz and more. Allocates nothing while looking.
 */
export class SecondLook {
  readonly #sound: Sound;
  readonly #size: number;
  readonly #binHz: number;
  /** Above it no peak is looked for: the sound may hold no more. */
  readonly #highestHz: number;
  readonly #samples: Float32Array;
  readonly #window: Float64Array;
  readonly #input: Float64Array;
  readonly #fft: RealFft;
  readonly #re: Float64Array;
  readonly #im: Float64Array;
  readonly #powers: Float64Array;
  /** What each bin holds where nobody plays. */
  readonly #quiet: Float64Array;
  readonly #hz = new Float64Array(MOST_PEAKS);
  readonly #peaks = new Float64Array(MOST_PEAKS);
  readonly #isFirst = new Uint8Array(MOST_PEAKS);
  readonly #isTried = new Uint8Array(MOST_PEAKS);
  #count = 0;
  #firstPower = 0;
  #restPower = 0;
  readonly #second: Second = { hz: 0, power: 0, firstPower: 0, partials: 0, missing: 0 };
  readonly #tried = { power: 0, score: 0, partials: 0, missing: 0 };

  constructor(sound: Sound) {
    const size = 2 ** Math.round(Math.log2(WINDOW_SEC * sound.rateHz));
    this.#sound = sound;
    this.#size = size;
    this.#binHz = sound.rateHz / size;
    this.#samples = new Float32Array(size);
    this.#window = makeWindow('blackman', size);
    this.#input = new Float64Array(size);
    this.#fft = new RealFft(size);
    this.#re = new Float64Array(this.#fft.bins);
    this.#im = new Float64Array(this.#fft.bins);
    this.#highestHz = Math.min(HIGHEST_HZ, (this.#fft.bins - 5) * this.#binHz);
    const bins = Math.min(this.#fft.bins, Math.floor(HIGHEST_HZ / this.#binHz) + 5);
    this.#powers = new Float64Array(bins);
    this.#quiet = new Float64Array(bins);
  }

  /** Learns what sounds about a moment at which nobody plays, s of the sound; the loudest of what was learnt stays. */
  learnQuiet(sec: number): void {
    this.#readPowers(sec);
    const powers = this.#powers;
    for (let bin = 1; bin < powers.length - 1; bin++) {
      const most = Math.max(powers[bin - 1]!, powers[bin]!, powers[bin + 1]!);
      if (most > this.#quiet[bin]!) this.#quiet[bin] = most;
    }
  }

  /** Takes up the window about a moment, s, and what of it belongs to a pitch of `firstHz` that moves by `spread`, a ratio. */
  lookAt(sec: number, firstHz: number, spread: number): void {
    this.#readPowers(sec);
    this.#findPeaks();
    this.#firstPower = 0;
    this.#restPower = 0;
    for (let n = 0; n < this.#count; n++) {
      const hz = this.#hz[n]!;
      const number = Math.max(1, Math.round(hz / firstHz));
      const place = number * firstHz;
      const reach = OWN_BINS * this.#binHz + (OWN_SHARE + spread) * hz;
      const isFirst = hz > place - reach && hz < place * (1 + STIFFNESS * number * number) + reach;
      this.#isFirst[n] = isFirst ? 1 : 0;
      if (isFirst) this.#firstPower += this.#peaks[n]!;
      else this.#restPower += this.#peaks[n]!;
    }
  }

  /** The pitch that explains best what is not the first's; none where all of that has less than `least` of the first's power. */
  second(least: number): Readonly<Second> {
    const second = this.#second;
    second.hz = 0;
    second.power = 0;
    second.firstPower = this.#firstPower;
    if (this.#restPower < least * this.#firstPower) return second;
    this.#isTried.fill(0);
    let best = 0;
    for (let turn = 0; turn < TRIED_PEAKS; turn++) {
      const peak = this.#strongestLeft();
      if (peak < 0) break;
      this.#isTried[peak] = 1;
      for (let number = 1; number <= TRIED_NUMBERS; number++) {
        const hz = this.#hz[peak]! / number;
        if (hz < LOWEST_SECOND_HZ || hz > HIGHEST_SECOND_HZ) continue;
        const tried = this.#tryPitch(hz);
        if (tried.score <= BETTER * best) continue;
        best = tried.score;
        second.hz = hz;
        second.power = tried.power;
        second.partials = tried.partials;
        second.missing = tried.missing;
      }
    }
    return second;
  }

  /** Power that stands at the partials of a pitch and is not the first's. */
  powerOf(hz: number): number {
    return this.#tryPitch(hz).power;
  }

  /**
   * Whether a pitch that looks like a common fraction of several notes (hollow: its first partial is missing, which small microphones do as
   * well) is one tone: two of its partials 7, 11 and 13 stand. The notes of chords are 2 to 6, 8 and 9 times their common fraction, and so
   * have none of them.
   */
  isWhole(hz: number): boolean {
    let strongest = 0;
    for (let n = 0; n < this.#count; n++) {
      if (this.#isFirst[n] === 1 && this.#peaks[n]! > strongest) strongest = this.#peaks[n]!;
    }
    let standing = 0;
    for (const number of TELLING) {
      const place = number * hz;
      const reach = Math.min(OWN_SHARE_OF_GAP * hz, OTHER_BINS * this.#binHz + OTHER_SHARE * place);
      for (let n = 0; n < this.#count; n++) {
        if (Math.abs(this.#hz[n]! - place) > reach || this.#peaks[n]! < TELLING_WORTH * strongest) continue;
        standing++;
        break;
      }
    }
    return standing >= TELLING_NEEDED;
  }

  #tryPitch(pitchHz: number): { power: number; score: number; partials: number; missing: number } {
    const tried = this.#tried;
    tried.power = 0;
    tried.score = 0;
    tried.partials = 0;
    tried.missing = 0;
    for (let number = 1; number <= PARTIALS; number++) {
      const place = number * pitchHz;
      const reach = OTHER_BINS * this.#binHz + OTHER_SHARE * place;
      let most = 0;
      let isHidden = place > this.#highestHz;
      for (let n = 0; n < this.#count; n++) {
        if (Math.abs(this.#hz[n]! - place) > reach) continue;
        if (this.#isFirst[n] === 1) isHidden = true;
        else if (this.#peaks[n]! > most) most = this.#peaks[n]!;
      }
      if (most > 0) {
        tried.power += most;
        tried.score += Math.sqrt(most);
        tried.partials++;
      } else if (!isHidden && number <= COUNTED_MISSED) tried.missing++;
    }
    tried.score *= 1 - MISSED * tried.missing;
    return tried;
  }

  #strongestLeft(): number {
    let best = -1;
    let most = 0;
    for (let n = 0; n < this.#count; n++) {
      if (this.#isFirst[n] === 1 || this.#isTried[n] === 1 || this.#peaks[n]! <= most) continue;
      most = this.#peaks[n]!;
      best = n;
    }
    return best;
  }

  #readPowers(sec: number): void {
    const size = this.#size;
    this.#sound.read(Math.round(sec * this.#sound.rateHz) - size / 2, this.#samples);
    for (let n = 0; n < size; n++) this.#input[n] = this.#window[n]! * this.#samples[n]!;
    this.#fft.forward(this.#input, this.#re, this.#im);
    const powers = this.#powers;
    for (let bin = 0; bin < powers.length; bin++) powers[bin] = this.#re[bin]! ** 2 + this.#im[bin]! ** 2;
  }

  #findPeaks(): void {
    const powers = this.#powers;
    const lowest = Math.max(4, Math.floor(LOWEST_HZ / this.#binHz));
    const end = powers.length - 4;
    let least = 0;
    for (let bin = lowest; bin < end; bin++) if (powers[bin]! > least) least = powers[bin]!;
    least *= WORTH;
    this.#count = 0;
    for (let bin = lowest; bin < end && this.#count < MOST_PEAKS; bin++) {
      const own = powers[bin]!;
      if (own < least || own < powers[bin - 1]! || own <= powers[bin + 1]!) continue;
      if (own < ABOVE_QUIET * this.#quiet[bin]!) continue;
      const below = Math.min(powers[bin - 2]!, powers[bin - 3]!, powers[bin - 4]!);
      const above = Math.min(powers[bin + 2]!, powers[bin + 3]!, powers[bin + 4]!);
      if (Math.max(below, above) > STANDS * own) continue;
      this.#hz[this.#count] = (bin + topOf(powers[bin - 1]!, own, powers[bin + 1]!)) * this.#binHz;
      this.#peaks[this.#count++] = own;
    }
  }
}

/** Where between three bins the power is greatest, by a parabola through their levels; -0.5 to 0.5. */
function topOf(below: number, own: number, above: number): number {
  const left = Math.log(below / own);
  const right = Math.log(above / own);
  const bend = left + right;
  return bend < 0 ? (0.5 * (left - right)) / bend : 0;
}
