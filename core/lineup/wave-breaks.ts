import type { Sound } from '../signal/sound.ts';
import { humAmount } from './hum-clock.ts';
import type { PlaceOdds, WaveBreak } from './jump-odds.ts';
import { PartialListener, Turns } from './partial-steps.ts';
import { doubledMoments, type SoundBreak, soundBreaks } from './sound-break.ts';
import type { StepLikelihood } from './step-test.ts';

/**
 * The wave is looked at where the other witnesses say more than this for a jump, nepers, the likeliest places first, and for so long at most, s, of a
 * take and of one asking. A break speaks for one by 8 at most, and doubled sound, which is looked for in a fifth of the time, by 12. Of 52
 * cuts of sampled takes none was found below these where all was looked at from -1.5 on: sound lost was found from 1.7 on, doubled from -0.9.
 */
const BREAKS = { leastGain: 0, mostSec: 60, leastSec: 15 };
const DOUBLED = { leastGain: -1, mostSec: 60, leastSec: 15 };
/** Where sound is doubled all breaks are looked for so far to either side, s. */
const ABOUT_SEC = 0.15;
/** Stretches no farther apart are one, s. */
const TOUCHING_SEC = 1e-6;
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
  /** Stretches that were looked through for breaks, and for doubled sound only. */
  readonly #scanned: Stretch[] = [];
  readonly #searched: Stretch[] = [];
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
    const asked = places
      .map((atSec, n) => {
        const from = n === 0 ? fromSec : 0.5 * (places[n - 1]! + atSec);
        const to = n + 1 === places.length ? toSec : 0.5 * (places[n + 1]! + atSec);
        return { fromSec: clock.takeSecOf(from), toSec: clock.takeSecOf(to), gain: gains.get(atSec)! };
      })
      .sort((a, b) => b.gain - a.gain);
    for (const stretch of chosenOf(asked, this.#scanned, BREAKS)) {
      this.#scanned.push(stretch);
      this.#keepBreaks(stretch);
    }
    const searched = chosenOf(asked, [...this.#scanned, ...this.#searched], DOUBLED);
    this.#searched.push(...searched);
    for (const stretch of joined(searched)) {
      for (const atSec of doubledMoments(this.#take, stretch.fromSec, stretch.toSec)) {
        this.#keepBreaks({ fromSec: atSec - ABOUT_SEC, toSec: atSec + ABOUT_SEC });
      }
    }
    return this.#scanned.length + this.#searched.length > 0;
  }

  /** What was found, by a clock. */
  on(clock: TwoTimes): WaveBreak[] {
    return this.#found.map((one) => ({ ...one, atSec: clock.sessionSecOf(one.takeSec) }));
  }

  /** Whether breaks were looked for there. */
  isScanned(takeSec: number): boolean {
    return isIn(this.#scanned, takeSec);
  }

  #keepBreaks({ fromSec, toSec }: Stretch): void {
    for (const one of soundBreaks(this.#take, fromSec, toSec, MOST_IN_STRETCH, LEAST_EVIDENCE)) {
      const { atSec: takeSec, evidence } = one;
      // Also where a sound so still gives no number.
      if (!Number.isFinite(evidence)) continue;
      if (this.#found.some((other) => Math.abs(other.takeSec - takeSec) < 0.003)) continue;
      this.#found.push({ takeSec, evidence, ...amountOf(this.#take, this.#listener, one) });
    }
  }
}

/** Take times, s. */
interface Stretch {
  readonly fromSec: number;
  readonly toSec: number;
}

function isIn(stretches: readonly Stretch[], takeSec: number): boolean {
  return stretches.some((one) => takeSec >= one.fromSec && takeSec <= one.toSec);
}

/** Stretches that go on in one another as one, in order of time. */
function joined(stretches: readonly Stretch[]): Stretch[] {
  const whole: Stretch[] = [];
  for (const one of [...stretches].sort((a, b) => a.fromSec - b.fromSec)) {
    const last = whole.at(-1);
    if (last === undefined || one.fromSec > last.toSec + TOUCHING_SEC) whole.push(one);
    else whole[whole.length - 1] = { fromSec: last.fromSec, toSec: Math.max(last.toSec, one.toSec) };
  }
  return whole;
}

/** Those that are to be looked at and were not yet, the likeliest first. */
function chosenOf(
  asked: readonly (Stretch & { readonly gain: number })[],
  known: readonly Stretch[],
  { leastGain, mostSec, leastSec }: { readonly leastGain: number; readonly mostSec: number; readonly leastSec: number },
): Stretch[] {
  const knownSec = known.reduce((sum, one) => sum + one.toSec - one.fromSec, 0);
  let leftSec = Math.max(leastSec, mostSec - knownSec);
  const chosen: Stretch[] = [];
  for (const { gain, fromSec, toSec } of asked) {
    if (gain <= leastGain || leftSec <= 0) break;
    if (isIn(known, 0.5 * (fromSec + toSec))) continue;
    chosen.push({ fromSec, toSec });
    leftSec -= toSec - fromSec;
  }
  return chosen;
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
