import type { Sound } from '../signal/sound.ts';
import { GuidePrint } from './bleed.ts';
import { denseRises } from './onset-match.ts';
import { TICK_SEC, type Trace } from './trace.ts';

/** What line-up knows of the guide. */
export interface GuideMap {
  readonly trace: Trace;
  readonly dense: Float32Array;
  readonly print: GuidePrint;
  /** Times at which something begins out of silence, s, in order: cue, count-in clicks and the first notes. */
  readonly starts: readonly number[];
}

/** Silence of the guide: this far below its loudest tick, dB. */
const SILENCE_DB = 45;
const LEAST_GAP_SEC = 0.12;
const MOST_STARTS = 24;

/** Reads the beginnings out of a guide. */
export function mapGuide(guide: Sound, trace: Trace): GuideMap {
  return {
    trace,
    dense: denseRises(trace),
    print: new GuidePrint(guide, trace.energy, TICK_SEC),
    starts: findStarts(guide, trace.energy),
  };
}

function findStarts(guide: Sound, energy: Float32Array): number[] {
  let most = 0;
  for (const power of energy) most = Math.max(most, power);
  const bar = most * 10 ** (-SILENCE_DB / 10);
  const gap = Math.round(LEAST_GAP_SEC / TICK_SEC);
  const starts: number[] = [];
  let quiet = gap;
  for (let i = 0; i < energy.length && starts.length < MOST_STARTS; i++) {
    if (energy[i]! <= bar) {
      quiet++;
      continue;
    }
    if (quiet >= gap) starts.push(exactStart(guide, i * TICK_SEC));
    quiet = 0;
  }
  return starts;
}

/** First sample near a tick that passes a twentieth of what follows within 10 ms. */
function exactStart(guide: Sound, nearSec: number): number {
  const first = Math.round((nearSec - 2 * TICK_SEC) * guide.rateHz);
  const samples = new Float32Array(Math.round(0.014 * guide.rateHz));
  guide.read(first, samples);
  let peak = 0;
  for (const sample of samples) peak = Math.max(peak, Math.abs(sample));
  const at = samples.findIndex((sample) => Math.abs(sample) > 0.05 * peak);
  return (first + Math.max(0, at)) / guide.rateHz;
}
