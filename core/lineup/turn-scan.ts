import type { Sound } from '../signal/sound.ts';
import { MOST_LOST_SEC } from './break-evidence.ts';
import { SlowStream } from './break-pulses.ts';
import { amountsWithin, PARTIAL_RATE_HZ, type PartialSteps, stepsBetween, Turns } from './partial-steps.ts';
import { SlowCopy } from './slow-copy.ts';
import { type Peak, PeakFinder } from './spectrum-peaks.ts';

const WINDOW_SEC = 0.036;
/** From window to window; the fourth after one begins where it ends. */
const APART = 4;
const SIZE = 1024;
/** Amounts that are tried, s. */
const STEP_SEC = 0.0002;
const AMOUNTS = amountsWithin(MOST_LOST_SEC, STEP_SEC);
/** What is said of each; of use within one asking only. */
const says = new Float64Array(AMOUNTS.length);

/**
 * Moments between two times of a sound, s, at which the partials go on but not in phase, to some 5 ms: some amount cut
 * is likelier than none by `leastGain` nepers and more than at any moment within 36 ms.
 */
export function turnedMoments(sound: Sound, fromSec: number, toSec: number, leastGain: number): number[] {
  const slow = new SlowCopy(sound.rateHz, PARTIAL_RATE_HZ);
  const rate = slow.rateHz;
  const hop = Math.round((WINDOW_SEC * rate) / APART);
  const length = APART * hop;
  const first = Math.round(fromSec * rate) - length;
  const count = Math.ceil(((toSec - fromSec) * rate) / hop) + APART;
  const finder = new PeakFinder(rate, SIZE);
  const line = new Float64Array(length);
  const stream = new SlowStream(sound, slow);
  stream.seek(first);
  stream.read(line.subarray(0, length - hop));
  const heard: Peak[][] = [];
  const gains: number[] = [];
  for (let n = 0; n < count; n++) {
    stream.read(line.subarray(length - hop));
    heard.push(finder.find(line));
    line.copyWithin(0, hop);
    if (heard.length <= APART) continue;
    gains.push(gainOf(stepsBetween(heard.shift()!, heard.at(-1)!, length / rate, length / rate), leastGain));
  }
  const found: number[] = [];
  for (let n = 0; n < gains.length; n++) {
    if (gains[n]! < leastGain) continue;
    const around = gains.slice(Math.max(0, n - APART), n + APART + 1);
    // The border between the two windows of the n-th pair lies `length` after the begin of the first.
    if (gains[n] === Math.max(...around)) found.push((first + n * hop + length) / rate);
  }
  return found;
}

/** What the likeliest amount has over none, nepers; 0 where it cannot reach `least`. */
function gainOf(steps: PartialSteps, least: number): number {
  const turns = new Turns(steps);
  const none = turns.say(0);
  if (turns.most - none < least) return 0;
  turns.sayAll(AMOUNTS, says);
  let most = none;
  for (let n = 0; n < says.length; n++) most = Math.max(most, says[n]!);
  return most - none;
}
