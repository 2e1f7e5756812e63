import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { fineLateness, MarkBeginnings } from '../../core/lineup/fine-lateness.ts';
import { fitOnsets } from '../../core/lineup/onset-fit.ts';
import type { Lateness } from '../../core/lineup/step-test.ts';
import { listenTo } from '../../core/lineup/take-listener.ts';
import { soundOf } from '../../core/signal/sound.ts';
import { type CutTake, makeCutTake, TAKE_RATE_HZ } from './cut-takes.ts';

// Samples of FluidR3 by FluidSynth (Debian), in a room, 25 dB over the noise. Every constant was chosen on other seeds (48000 to 48025).
const folder = mkdtempSync(join(tmpdir(), 'partsong-fine-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const STRETCH_SEC = 4;

/** Root of the mean square by which stretches err about their mean, s. */
function errorOf(along: readonly Lateness[], take: CutTake): number {
  const errors: number[] = [];
  for (
    let fromSec = STRETCH_SEC * Math.ceil(take.musicFromSec / STRETCH_SEC);
    fromSec < take.musicToSec;
    fromSec += STRETCH_SEC
  ) {
    const isIn = (sec: number): boolean => sec >= fromSec && sec < fromSec + STRETCH_SEC;
    const heard = along.filter((one) => isIn(one.atSec));
    const played = take.notes.filter((note) => isIn(note.sessionSec));
    if (heard.length === 0 || played.length === 0) continue;
    const weight = heard.reduce((sum, one) => sum + one.weight, 0);
    const later = heard.reduce((sum, one) => sum + one.weight * one.laterSec, 0) / weight;
    errors.push(later - played.reduce((sum, one) => sum + one.playedSec - one.sessionSec, 0) / played.length);
  }
  const mean = errors.reduce((sum, one) => sum + one, 0) / errors.length;
  return Math.sqrt(errors.reduce((sum, one) => sum + (one - mean) ** 2, 0) / errors.length);
}

describe('how late sampled notes are, note by note', () => {
  it('is told with two thirds of the error that the comparison in stretches of 4 s makes, and less', () => {
    let [fineSum, coarseSum] = [0, 0];
    for (const [seed, instrument] of [
      [32000, 'violin'],
      [32001, 'oboe'],
      [32002, 'trumpet'],
      [32003, 'contrabass'],
    ] as const) {
      const take = makeCutTake(
        {
          ...{ seed, instrument, musicSec: 40, snrDb: 25, roomSec: 0.4, bleedDb: null, driftPpm: 0 },
          ...{ scatterSec: 0.008, cuts: [], coded: 'pcm' },
        },
        folder,
      );
      const [sound, guide] = [take.samples, take.guide].map((samples) => soundOf(samples, TAKE_RATE_HZ));
      const [rises, guideRises] = [listenTo(sound!), listenTo(guide!)];
      const line = { leadSec: take.leadSec, driftPpm: 0 };
      const mark = new MarkBeginnings(guide!, guideRises);
      const fine = errorOf(fineLateness(mark, { sound: sound!, rises }, line, false)!, take);
      const coarse = errorOf(fitOnsets(guideRises, rises, take.leadSec, 0, false)!.along, take);
      console.log(
        `${instrument}: note by note ${(1e3 * fine).toFixed(1)} ms, in stretches of 4 s ${(1e3 * coarse).toFixed(1)} ms`,
      );
      fineSum += fine;
      coarseSum += coarse;
    }
    expect(fineSum).toBeLessThan((2 / 3) * coarseSum);
  }, 120_000);
});
