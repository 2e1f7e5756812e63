import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import type { Sound } from '../signal/sound.ts';

/** A step of the levels, s. */
const STEP_SEC = 0.005;
const BLOCK_FRAMES = 16384;
/** Softer than this whatever the take is like, mean square. */
const SILENT_POWER = 1e-8;
/** Below the loud steps of the take by 45 dB is a rest; up to 30 dB below them where the room itself is so loud (8 dB more than the softest tenth). */
const REST_SHARE = 10 ** -4.5;
const MOST_REST_SHARE = 1e-3;
const ABOVE_FLOOR = 6;
/** The softest tenth is taken for noise of the room up to 12 dB below the loud steps. */
const MOST_NOISE_SHARE = 10 ** -1.2;
const FAINT_SHARE = 10 ** -1.2;
/** A rise of this, in power, from the loudest of 25 ms to that of the next 25 ms is an attack: no tone from 40 Hz on rises so by itself. */
const ATTACK_RISE = 4;
const ATTACK_STEPS = 5;
/** A cross-fade keeps away from an attack by this much, s. */
const AFTER_ATTACK_SEC = 0.04;
const BEFORE_ATTACK_SEC = 0.005;

/** Where a take rests and where notes are struck. Reads it once; memory: 10 bytes for each 5 ms. */
export class SoundLevels {
  readonly #stepFrames: number;
  readonly #rests: Uint8Array;
  readonly #attacks: Uint8Array;
  readonly #powers: Float64Array;
  readonly #noise: number;
  readonly #faint: number;

  constructor(sound: Sound, cancel?: Cancel) {
    this.#stepFrames = Math.max(1, Math.round(STEP_SEC * sound.rateHz));
    const powers = powersOf(sound, this.#stepFrames, cancel);
    const sorted = Float64Array.from(powers).sort();
    const at = (share: number): number => sorted[Math.floor(share * Math.max(0, sorted.length - 1))] ?? 0;
    const loud = at(0.95);
    const floor = Math.max(at(0.1) * ABOVE_FLOOR, loud * REST_SHARE);
    const rest = Math.max(SILENT_POWER, Math.min(floor, loud * MOST_REST_SHARE));
    this.#powers = powers;
    this.#noise = Math.min(at(0.1), loud * MOST_NOISE_SHARE);
    this.#faint = loud * FAINT_SHARE;
    this.#rests = Uint8Array.from(powers, (power) => (power < rest ? 1 : 0));
    this.#attacks = attacksOf(powers, rest);
  }

  /** Whether nothing but the room is heard from one frame to another. */
  isRest(fromFrame: number, toFrame: number): boolean {
    const { from, to } = this.#steps(fromFrame, toFrame);
    for (let n = from; n <= to; n++) if (this.#rests[n] === 0) return false;
    return true;
  }

  /** How alike a steady tone can be to itself there, for the noise of the room that goes with it: 1 without noise. */
  mostLikeness(fromFrame: number, toFrame: number): number {
    return Math.max(0, 1 - this.#noise / (this.#powerOf(fromFrame, toFrame) + 1e-30));
  }

  /** Whether it is so soft there, 12 dB below the loud steps, that it may be the room alone. */
  isFaint(fromFrame: number, toFrame: number): boolean {
    return this.#powerOf(fromFrame, toFrame) < this.#faint;
  }

  #powerOf(fromFrame: number, toFrame: number): number {
    const { from, to } = this.#steps(fromFrame, toFrame);
    let sum = 0;
    for (let n = from; n <= to; n++) sum += this.#powers[n]!;
    return sum / Math.max(1, to - from + 1);
  }

  /** Whether a note is struck there or so near that a cross-fade would touch it: from 25 ms before to 40 ms after. */
  hasAttack(fromFrame: number, toFrame: number): boolean {
    const { from, to } = this.#steps(
      fromFrame - (AFTER_ATTACK_SEC / STEP_SEC) * this.#stepFrames,
      toFrame + (BEFORE_ATTACK_SEC / STEP_SEC) * this.#stepFrames,
    );
    for (let n = from; n <= to; n++) if (this.#attacks[n] === 1) return true;
    return false;
  }

  /** Whether there is a rest of some length between two frames. */
  hasRest(fromFrame: number, toFrame: number, lengthFrames: number): boolean {
    const { from, to } = this.#steps(fromFrame, toFrame);
    const wanted = lengthFrames / this.#stepFrames;
    let run = 0;
    for (let n = from; n <= to; n++) {
      run = this.#rests[n] === 0 ? 0 : run + 1;
      if (run >= wanted) return true;
    }
    return false;
  }

  #steps(fromFrame: number, toFrame: number): { from: number; to: number } {
    return {
      from: Math.max(0, Math.floor(fromFrame / this.#stepFrames)),
      to: Math.min(this.#rests.length - 1, Math.floor(toFrame / this.#stepFrames)),
    };
  }
}

function powersOf(sound: Sound, stepFrames: number, cancel: Cancel | undefined): Float64Array {
  const powers = new Float64Array(Math.ceil(sound.lengthFrames / stepFrames));
  const steps = Math.max(1, Math.floor(BLOCK_FRAMES / stepFrames));
  const buffer = new Float32Array(steps * stepFrames);
  for (let first = 0; first < powers.length; first += steps) {
    throwIfCancelled(cancel);
    sound.read(first * stepFrames, buffer);
    for (let n = 0; n < steps && first + n < powers.length; n++) {
      let sum = 0;
      for (let k = n * stepFrames; k < (n + 1) * stepFrames; k++) sum += buffer[k]! * buffer[k]!;
      powers[first + n] = sum / stepFrames;
    }
  }
  return powers;
}

function attacksOf(powers: Float64Array, rest: number): Uint8Array {
  const attacks = new Uint8Array(powers.length);
  for (let n = ATTACK_STEPS; n + ATTACK_STEPS <= powers.length; n++) {
    let before = 0;
    let after = 0;
    for (let k = 1; k <= ATTACK_STEPS; k++) {
      before = Math.max(before, powers[n - k]!);
      after = Math.max(after, powers[n + k - 1]!);
    }
    if (after > rest && after > ATTACK_RISE * before) attacks[n] = 1;
  }
  return attacks;
}
