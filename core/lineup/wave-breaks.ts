import type { Sound } from '../signal/sound.ts';
import { humAmount } from './hum-clock.ts';
import type { PlaceOdds, WaveBreak } from './jump-odds.ts';
import { PartialListener, Turns } from './partial-steps.ts';
import { type SoundBreak, soundBreaks } from './sound-break.ts';
import type { StepLikelihood } from './step-test.ts';

/**
 * The wave is looked at where the other witnesses speak against a jump by no more than this, nepers, the likeliest places
 * first, and for so long at most, s, of a take and of one asking: a break of itself speaks for one by up to 5.
 */
const ASKED_GAIN = -1.5;
const MOST_SCANNED_SEC = 60;
const LEAST_SCANNED_SEC = 15;
/** Most breaks that are kept of a stretch, and the least of them, nepers. */
const MOST_IN_STRETCH = 6;
const LEAST_EVIDENCE = 1;
/** Amounts are asked for in steps of this, s, so many to either side. */
const AMOUNT_STEP_SEC = 0.0001;
const AMOUNTS = 480;

/** A clock's two times. */
export interface TwoTimes {
  takeSecOf(sessionSec: number): number;
  sessionSecOf(takeSec: number): number;
}

/** Breaks of a take's wave, looked for only where somebody asks, and once only. */
export class WaveBreaks {
  readonly #take: Sound;
  readonly #listener: PartialListener;
  /** Take times that were looked at, s. */
  readonly #scanned: { readonly fromSec: number; readonly toSec: number }[] = [];
  readonly #found: Omit<WaveBreak, 'atSec'>[] = [];

  constructor(take: Sound) {
    this.#take = take;
    this.#listener = new PartialListener(take);
  }

  /** Looks about all places that the other witnesses leave open; whether anything has been looked at by now. */
  lookAbout(odds: readonly PlaceOdds[], clock: TwoTimes, fromSec: number, toSec: number): boolean {
    const gains = new Map<number, number>();
    for (const { atSec, gain } of odds) gains.set(atSec, Math.max(gain, gains.get(atSec) ?? gain));
    const places = [...gains.keys()].sort((a, b) => a - b);
    const asked = places.map((atSec, n) => {
      const from = n === 0 ? fromSec : 0.5 * (places[n - 1]! + atSec);
      const to = n + 1 === places.length ? toSec : 0.5 * (places[n + 1]! + atSec);
      return { from, to, gain: gains.get(atSec)! };
    });
    const scannedSec = this.#scanned.reduce((sum, one) => sum + one.toSec - one.fromSec, 0);
    let leftSec = Math.max(LEAST_SCANNED_SEC, MOST_SCANNED_SEC - scannedSec);
    for (const { from, to, gain } of asked.sort((a, b) => b.gain - a.gain)) {
      if (gain <= ASKED_GAIN || leftSec <= 0) break;
      leftSec -= this.#scan(clock.takeSecOf(from), clock.takeSecOf(to));
    }
    return this.#scanned.length > 0;
  }

  /** What was found, by a clock. */
  on(clock: TwoTimes): WaveBreak[] {
    return this.#found.map((one) => ({ ...one, atSec: clock.sessionSecOf(one.takeSec) }));
  }

  isScanned(takeSec: number): boolean {
    return this.#scanned.some((one) => takeSec >= one.fromSec && takeSec <= one.toSec);
  }

  /** How long it looked, s. */
  #scan(fromSec: number, toSec: number): number {
    if (this.isScanned(0.5 * (fromSec + toSec))) return 0;
    this.#scanned.push({ fromSec, toSec });
    for (const one of soundBreaks(this.#take, fromSec, toSec, MOST_IN_STRETCH, LEAST_EVIDENCE)) {
      const { atSec: takeSec, evidence } = one;
      // Also where a sound so still gives no number.
      if (!Number.isFinite(evidence)) continue;
      if (this.#found.some((other) => Math.abs(other.takeSec - takeSec) < 0.003)) continue;
      this.#found.push({ takeSec, evidence, ...amountOf(this.#take, this.#listener, one) });
    }
    return toSec - fromSec;
  }
}

/** Sound that is there twice tells the amount to this, s, one standard deviation: no finer than what steps are asked for. */
const DOUBLED_ERROR_SEC = 0.00005;

/** What the wave says for steps of a take's time at a break: phases, hum, and sound that is there twice. */
function amountOf(sound: Sound, listener: PartialListener, one: SoundBreak): WaveAmount {
  const { atSec, doubledSec, doubledLikely = 1 } = one;
  const byPartials = amountAt(listener, atSec);
  const byHum = humAmount(sound, atSec);
  const byPhases: StepLikelihood = byHum === undefined ? byPartials : (step) => byPartials(step) + byHum(step);
  if (doubledSec === undefined) return { amount: byPhases };
  const steps = Array.from({ length: 2 * AMOUNTS + 1 }, (_, n) => (n - AMOUNTS) * AMOUNT_STEP_SEC);
  const most = steps.reduce((highest, step) => Math.max(highest, byPhases(step)), Number.NEGATIVE_INFINITY);
  const sum = steps.reduce((all, step) => all + Math.exp(byPhases(step) - most), 0);
  const peak = AMOUNT_STEP_SEC / (Math.sqrt(2 * Math.PI) * DOUBLED_ERROR_SEC);
  const amount: StepLikelihood = (stepSec) => {
    const doubled = peak * Math.exp(-0.5 * ((stepSec - doubledSec) / DOUBLED_ERROR_SEC) ** 2);
    return Math.log(doubledLikely * doubled + ((1 - doubledLikely) * Math.exp(byPhases(stepSec) - most)) / sum);
  };
  return { amount, doubledLikely };
}

type WaveAmount = Pick<WaveBreak, 'amount' | 'doubledLikely'>;

/**
 * Partials of one note stray together, as their player does, so that what they say is worth so much of its sum; and sound that was doubled is
 * known to be so but for one time in twelve, e^-2.5. With both the true amount of 90 cuts that lost sound from held notes of 13 sampled takes was
 * given 2.8 times as much on the mean (logarithms), and never less than e^-6, where it had been 13 times; of 88 cuts of 13 other takes
 * 2.7 times, and twice, where it had been 14 times.
 */
const PHASES_COUNT = 0.5;
const NOT_DOUBLED = 2.5;

/** What the phases of the partials say for steps of a take's time at a moment: the window through which they say most. */
function amountAt(listener: PartialListener, takeSec: number): StepLikelihood {
  const [first, ...others] = listener.at(takeSec).map((steps) => {
    const turns = new Turns(steps);
    const table = Float64Array.from({ length: 2 * AMOUNTS + 1 }, (_, n) => turns.say((AMOUNTS - n) * AMOUNT_STEP_SEC));
    return { table, most: Math.max(...table) };
  });
  const { table } = others.reduce((best, one) => (one.most > best.most ? one : best), first!);
  const told = table.map((says, n) => PHASES_COUNT * says - (n > AMOUNTS ? NOT_DOUBLED : 0));
  return (stepSec) => told[Math.max(0, Math.min(2 * AMOUNTS, Math.round(stepSec / AMOUNT_STEP_SEC) + AMOUNTS))]!;
}
