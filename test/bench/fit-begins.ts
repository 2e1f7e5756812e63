import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Begin, possibleBegins, SIGNS } from '../../core/pitch/begins.ts';
import { inRoom, noisy, RATE_HZ, tracked } from '../core/pitch/pitch-kit.ts';
import { CHOSEN_ON, type MelodyCase, melodyCases, type TrueOnset } from '../reference/melody-cases.ts';
import { playMelodies } from '../reference/sampled-melody.ts';

/**
 * Prints the weights of core/pitch/begins.ts: logistic regression of whether a note begins at a place on the signs there, by Newton's
 * steps, with a ridge of 1 on all weights but the base. Melodies of the players constants are chosen on. To run:
 * npx rolldown test/bench/fit-begins.ts --platform node --format esm -o /tmp/fit-begins.mjs && node /tmp/fit-begins.mjs
 */
const WITHIN_SEC = 0.05;

interface Row {
  readonly signs: readonly number[];
  readonly isBegin: boolean;
}

const folder = mkdtempSync(join(tmpdir(), 'partsong-fit-'));
const rows: { same: Row[]; other: Row[] } = { same: [], other: [] };
let meant = 0;
let near = 0;
// Long notes count more: they are most of what is played.
for (const [seed, rounds, kinds] of [
  [1, 2, undefined],
  [5, 3, ['vibrato', 'swing', 'swell']],
] as const) {
  const cases = melodyCases(CHOSEN_ON, seed, folder, rounds, kinds);
  const dry = playMelodies(
    cases.map((one) => one.melody),
    folder,
    RATE_HZ,
  );
  for (const [index, one] of cases.entries()) {
    const places = possibleBegins(tracked(heard(one, dry[index]!)));
    const labels = labelled(places, one.onsets);
    meant += one.onsets.length;
    for (const [place, label] of labels.entries()) {
      if (label === 'begin') near++;
      const { signs, score } = places[place]!;
      if (label === 'beside' || score === Number.NEGATIVE_INFINITY) continue;
      const row = { signs: [1, ...SIGNS.map((name) => signs[name])], isBegin: label === 'begin' };
      (signs.isOther === 1 ? rows.other : rows.same).push(row);
    }
  }
}
rmSync(folder, { recursive: true, force: true });
console.log(`${rows.same.length + rows.other.length} places; ${near} of ${meant} beginnings have one`);
for (const [name, set] of Object.entries(rows)) {
  const weights = fitted(set);
  console.log(`${name}: ${['base', ...SIGNS].map((sign, n) => `${sign}: ${weights[n]!.toFixed(2)}`).join(', ')}`);
}

function heard(one: MelodyCase, dry: Float32Array): Float32Array {
  return noisy(inRoom(dry, one.t60Sec, one.directDb, one.seed + 1), one.snrDb, one.seed + 2);
}

/** The place nearest to each beginning is it; others as near are neither. */
function labelled(places: readonly Begin[], onsets: readonly TrueOnset[]): ('begin' | 'beside' | 'not')[] {
  const labels = places.map((): 'begin' | 'beside' | 'not' => 'not');
  for (const { fromSec, toSec } of onsets) {
    const about = [...places.entries()]
      .map(([index, { sec }]) => ({ index, off: Math.max(0, fromSec - sec, sec - toSec) }))
      .filter(({ index, off }) => off <= WITHIN_SEC && labels[index] !== 'begin')
      .sort((a, b) => a.off - b.off);
    for (const [rank, { index }] of about.entries()) labels[index] = rank === 0 ? 'begin' : 'beside';
  }
  return labels;
}

function fitted(set: readonly Row[]): number[] {
  const count = set[0]!.signs.length;
  let weights: number[] = Array(count).fill(0);
  for (let turn = 0; turn < 30; turn++) {
    const slope = weights.map((weight, n) => (n === 0 ? 0 : weight));
    const bend = weights.map((_, n) => weights.map((_unused, k) => (n === k && n > 0 ? 1 : 0)));
    for (const { signs, isBegin } of set) {
      const likely = 1 / (1 + Math.exp(-signs.reduce((sum, sign, n) => sum + sign * weights[n]!, 0)));
      for (let n = 0; n < count; n++) {
        slope[n]! += (likely - (isBegin ? 1 : 0)) * signs[n]!;
        for (let k = 0; k < count; k++) bend[n]![k]! += likely * (1 - likely) * signs[n]! * signs[k]!;
      }
    }
    // A sign that is the same in the whole set tells nothing.
    for (let n = 0; n < count; n++) bend[n]![n]! += 1e-9;
    const step = solved(bend, slope);
    weights = weights.map((weight, n) => weight - step[n]!);
    if (Math.max(...step.map(Math.abs)) < 1e-6) break;
  }
  return weights;
}

/** Gauss and Jordan. */
function solved(matrix: readonly (readonly number[])[], right: readonly number[]): number[] {
  const rows = matrix.map((row, n) => [...row, right[n]!]);
  for (let n = 0; n < rows.length; n++) {
    let best = n;
    for (let k = n; k < rows.length; k++) if (Math.abs(rows[k]![n]!) > Math.abs(rows[best]![n]!)) best = k;
    [rows[n], rows[best]] = [rows[best]!, rows[n]!];
    const own = rows[n]!;
    for (const other of rows) {
      if (other === own) continue;
      const share = other[n]! / own[n]!;
      for (let k = n; k < own.length; k++) other[k]! -= share * own[k]!;
    }
  }
  return rows.map((row, n) => row[rows.length]! / row[n]!);
}
