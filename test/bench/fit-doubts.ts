import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { possibleBegins } from '../../core/pitch/begins.ts';
import { attackNear } from '../../core/pitch/onset-time.ts';
import { hzOf } from '../../core/pitch/pitch-span.ts';
import { type ReadNote, readDetuned } from '../reference/detuned-notes.ts';
import { type PairedOnset, pairedOnsets } from '../reference/dry-onsets.ts';
import { CHOSEN_ON, HELD_OUT, melodyCases, type Player } from '../reference/melody-cases.ts';

/**
 * Prints what core/pitch/onset-time.ts and pitch-span.ts hold of how surely an onset and a pitch are known, and what of it holds on
 * players held out. Robust fit: the likelihood of Student's t of 3 degrees of freedom (Lange, Little and Taylor 1989, JASA 84), each
 * player counting alike, by Nelder and Mead's simplex (1965, The Computer Journal 7); all deviations then scaled so that 95 % lie within two.
 * The files' constants are rounded; what they raise is said there. To run:
 * npx rolldown test/bench/fit-doubts.ts --platform node --format esm -o /tmp/fit-doubts.mjs && node /tmp/fit-doubts.mjs
 */
const FREEDOM = 3;
const NEAR_BEGIN_SEC = 0.05;

const more = (family: Player['family'], name: string, program: number, low: number, high: number): Player => ({
  family,
  name,
  program,
  low,
  high,
});
const MORE: readonly Player[] = [
  more('bowed', 'string section', 48, 43, 84),
  more('bowed', 'slow strings', 49, 48, 80),
  more('voice', 'choir', 52, 48, 76),
  more('blown', 'pan flute', 75, 62, 88),
  more('blown', 'tuba', 58, 30, 55),
  more('blown', 'baritone saxophone', 67, 38, 66),
  more('blown', 'english horn', 69, 54, 79),
  more('blown', 'piccolo', 72, 75, 96),
  more('blown', 'muted trumpet', 59, 55, 79),
  more('plucked', 'jazz guitar', 26, 42, 74),
  more('plucked', 'fretless bass', 35, 30, 52),
  more('keyed', 'marimba', 12, 48, 84),
  more('keyed', 'harmonica', 22, 60, 84),
  more('keyed', 'electric piano', 4, 42, 84),
];
const FEWER_KINDS = ['repeats 2/s', 'repeats 4/s', 'legato', 'trill', 'dotted', 'swell', 'staccato'];
const KINDS = [...FEWER_KINDS, 'repeats 3/s', 'repeats 6/s', 'vibrato', 'swing'];
const LENGTHS = {
  plain: [
    [0.15, 12],
    [0.22, 12],
    [0.3, 12],
    [0.45, 8],
    [0.7, 6],
    [1.2, 4],
  ],
  vibrato: 12,
} as const;

/** One thing that was measured: its error, and what its middle and its deviation go by. */
interface Sample {
  readonly player: string;
  readonly off: number;
  readonly late: readonly number[];
  readonly doubt: readonly number[];
}

/** Middle and deviation of a sample by the weights of a fit. */
type Model = (sample: Sample, weights: readonly number[]) => { readonly middle: number; readonly deviation: number };

/** What is seen of attacks: weights are of the lateness, then of the logarithm of the deviation, ms. */
const onsetModel: Model = ({ late, doubt }, weights) => ({
  middle: dot(late, weights),
  deviation: Math.exp(dot(doubt, weights.slice(late.length))),
});
/** Parts of a deviation that add as squares; weights are their logarithms, cents. */
const pitchModel: Model = ({ doubt }, weights) => ({
  middle: 0,
  deviation: Math.hypot(0.1, ...doubt.map((part, n) => part * Math.exp(weights[n]!))),
});

function dot(parts: readonly number[], weights: readonly number[]): number {
  return parts.reduce((sum, part, n) => sum + part * weights[n]!, 0);
}

function onsetSamples(pairs: readonly PairedOnset[]): Sample[] {
  return pairs.flatMap(({ of, track, heard, trueSec }): Sample[] => {
    const begins = possibleBegins(track).map((begin) => begin.sec);
    const begin = begins.reduce((near, sec) =>
      Math.abs(sec - heard.fromSec) < Math.abs(near - heard.fromSec) ? sec : near,
    );
    if (Math.abs(begin - heard.fromSec) > NEAR_BEGIN_SEC) return [];
    const { sec, flat, dull, smooth, octaves } = attackNear(track, begin, heard.toSec, true);
    const late = [1, flat, dull];
    return [{ player: playerOf(of.name), off: 1000 * (sec - trueSec), late, doubt: [...late, smooth, octaves] }];
  });
}

function playerOf(name: string): string {
  return name.slice(name.indexOf(', ') + 2);
}

function pitchSamples(notes: readonly ReadNote[]): Sample[] {
  return notes.flatMap(({ player, read, offCents, offLongCents }) => {
    const { cents, steadySec, spreadCents, vibrato, riseCents } = read;
    const spread = vibrato === null ? spreadCents / Math.sqrt(Math.max(1, steadySec / 0.085)) : 0;
    const doubt = [1, 1 / (hzOf(cents) * steadySec ** 2), spread, vibrato?.extentCents ?? 0, riseCents];
    const known = offLongCents === null ? [offCents] : [offCents, offLongCents];
    return known.map((off) => ({ player: player.name, off, late: [], doubt }));
  });
}

/** Of a set each player counts alike. */
function countsOf(samples: readonly Sample[]): number[] {
  const counts = new Map<string, number>();
  for (const { player } of samples) counts.set(player, (counts.get(player) ?? 0) + 1);
  return samples.map(({ player }) => samples.length / counts.size / counts.get(player)!);
}

function lossOf(samples: readonly Sample[], model: Model): (weights: readonly number[]) => number {
  const counts = countsOf(samples);
  return (weights) =>
    samples.reduce((sum, sample, n) => {
      const { middle, deviation } = model(sample, weights);
      const ratio = (sample.off - middle) / deviation;
      return sum + counts[n]! * (Math.log(deviation) + 0.5 * (FREEDOM + 1) * Math.log1p(ratio ** 2 / FREEDOM));
    }, 0);
}

/** Nelder and Mead's simplex, begun anew from its best a few times. */
function least(loss: (weights: readonly number[]) => number, begin: readonly number[]): number[] {
  let best = [...begin];
  for (let round = 0; round < 6; round++) {
    const points = [best, ...best.map((_, n) => best.map((value, k) => (n === k ? value + 1 : value)))];
    let simplex = points.map((at) => ({ at, value: loss(at) }));
    for (let turn = 0; turn < 250; turn++) {
      simplex = simplex.sort((a, b) => a.value - b.value);
      const worst = simplex.at(-1)!;
      const rest = simplex.slice(0, -1);
      const centre = best.map((_, k) => rest.reduce((sum, { at }) => sum + at[k]!, 0) / rest.length);
      const tried = (reach: number) => {
        const at = centre.map((value, k) => value + reach * (value - worst.at[k]!));
        return { at, value: loss(at) };
      };
      let next = tried(1);
      if (next.value < simplex[0]!.value) next = [next, tried(2)].sort((a, b) => a.value - b.value)[0]!;
      else if (next.value >= rest.at(-1)!.value) next = tried(next.value < worst.value ? 0.5 : -0.5);
      if (next.value < worst.value) simplex[simplex.length - 1] = next;
      else {
        const to = simplex[0]!.at;
        simplex = simplex
          .map(({ at }) => at.map((value, k) => 0.5 * (value + to[k]!)))
          .map((at) => ({ at, value: loss(at) }));
      }
    }
    best = simplex.sort((a, b) => a.value - b.value)[0]!.at;
  }
  return best;
}

/** How many deviations hold 95 % of a set, and what share two times that scale hold of another. */
function report(
  name: string,
  model: Model,
  chosen: readonly Sample[],
  heldOut: readonly Sample[],
  weights: readonly number[],
): void {
  const ratios = (samples: readonly Sample[]): { ratio: number; count: number }[] => {
    const counts = countsOf(samples);
    return samples.map((sample, n) => {
      const { middle, deviation } = model(sample, weights);
      return { ratio: Math.abs(sample.off - middle) / deviation, count: counts[n]! / samples.length };
    });
  };
  const sorted = ratios(chosen).sort((a, b) => a.ratio - b.ratio);
  let two = 0;
  let share = 0;
  for (const { ratio, count } of sorted) {
    if (share < 0.95) two = ratio;
    share += count;
  }
  const held = ratios(heldOut).filter(({ ratio }) => ratio <= two).length / heldOut.length;
  console.log(
    `${name}: ${chosen.length} and ${heldOut.length} held out, of which ${(100 * held).toFixed(1)} % within two deviations`,
  );
  console.log(
    `  all deviations times ${(two / 2).toFixed(2)}; weights ${weights.map((one) => one.toFixed(2)).join(', ')}`,
  );
}

const folder = mkdtempSync(join(tmpdir(), 'partsong-fit-'));
const onsets = onsetSamples([
  ...pairedOnsets(melodyCases(CHOSEN_ON, 21, folder, 1, KINDS), folder),
  ...pairedOnsets(melodyCases(MORE, 23, folder, 1, FEWER_KINDS), folder),
]);
const onsetsOut = onsetSamples(pairedOnsets(melodyCases(HELD_OUT, 22, folder, 1, KINDS), folder));
const onsetWeights = least(lossOf(onsets, onsetModel), [3, 10, 5, 1, 2, 1, 1, 0.3]);
report(
  'onsets (late: 1, flat, dull; log deviation: 1, flat, dull, smooth, octaves)',
  onsetModel,
  onsets,
  onsetsOut,
  onsetWeights,
);
const pitches = pitchSamples(readDetuned([...CHOSEN_ON, ...MORE], 31, LENGTHS, 2, folder));
const pitchesOut = pitchSamples(readDetuned(HELD_OUT, 32, LENGTHS, 2, folder));
const pitchWeights = least(lossOf(pitches, pitchModel), [-0.5, 0.7, -0.5, -2.5, -1.2]);
report(
  'pitch (logarithms of: least, ringing, spread, swing, wandering)',
  pitchModel,
  pitches,
  pitchesOut,
  pitchWeights,
);
rmSync(folder, { recursive: true, force: true });
