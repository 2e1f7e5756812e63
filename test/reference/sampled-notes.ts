import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { plannedFft } from '../planned-fft.ts';
import { foldedPairs } from './sampled-melody.ts';

export const SAMPLED_RATE_HZ = 48000;
/** Of the samples only those that are played are read: reading all 140 MB took longer than playing. */
const ONLY_WHAT_IS_PLAYED = ['-o', 'synth.dynamic-sample-loading=1'];
const FONT = '/usr/share/sounds/sf2/FluidR3_GM.sf2';
const TICKS_PER_SEC = 960;
const NOTE_SEC = 0.75;
/** FluidSynth's bend of two half tones reaches 12700 * 2 / 128 cents, and it rounds a pitch down to whole cents. */
const BEND_CENTS = 198.4375;

export interface SampledNote {
  readonly fromSec: number;
  readonly toSec: number;
  readonly key: number;
  /** Commanded, whole. */
  readonly cents: number;
}

/** A row of notes of one General MIDI program; stepSec from note to note. */
export interface SampledRow {
  readonly program: number;
  readonly keys: readonly number[];
  readonly cents: readonly number[];
  readonly stepSec: number;
  /** How long each is held; 0.75 s if absent. */
  readonly noteSec?: number;
}

/**
 * Renders rows one after the other with FluidSynth and FluidR3 (both Debian), reverb and chorus off. Gives for each row its own
 * sound, mono at 48 kHz, and its notes in it.
 */
export function playSampled(
  rows: readonly SampledRow[],
  folder: string,
): { sound: Float32Array; notes: SampledNote[] }[] {
  return rows.map((row) => {
    const sound = synthesized(midiFile(midiOf(row), TICKS_PER_SEC), folder);
    const notes = row.keys.map((key, index) => {
      const fromSec = 0.5 + index * row.stepSec;
      return { fromSec, toSec: fromSec + (row.noteSec ?? NOTE_SEC), key, cents: row.cents[index]! };
    });
    return { sound, notes };
  });
}

/** Renders a MIDI file with FluidSynth and FluidR3, reverb and chorus off: mono at 48 kHz. */
export function synthesized(midi: Uint8Array, folder: string): Float32Array {
  const file = join(folder, 'row.mid');
  const raw = join(folder, 'row.raw');
  writeFileSync(file, midi);
  const options = ['-R', '0', '-C', '0', '-r', String(SAMPLED_RATE_HZ), '-g', '0.6', '-O', 'float', '-T', 'raw'];
  execFileSync('fluidsynth', ['-ni', '-q', ...ONLY_WHAT_IS_PLAYED, ...options, '-F', raw, FONT, file], {
    stdio: 'ignore',
  });
  const bytes = readFileSync(raw);
  const both = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length >> 2);
  return foldedPairs(both, 0, both.length >> 1);
}

function midiOf({ program, keys, cents, stepSec, noteSec = NOTE_SEC }: SampledRow): number[] {
  const track: number[] = [0, 0xc0, program];
  for (const [controller, value] of [
    [101, 0],
    [100, 0],
    [6, 2],
    [38, 0],
  ] as const) {
    track.push(0, 0xb0, controller, value);
  }
  let last = 0;
  const at = (sec: number): void => {
    const tick = Math.round(sec * TICKS_PER_SEC);
    track.push(...variableLength(tick - last));
    last = tick;
  };
  for (const [index, key] of keys.entries()) {
    const fromSec = 0.5 + index * stepSec;
    // Just above the whole cent, so that rounding down gives it.
    const bend = Math.round(8192 * (1 + (cents[index]! === 0 ? 0 : cents[index]! + 0.05) / BEND_CENTS));
    at(fromSec);
    track.push(0xe0, bend & 127, bend >> 7, 0, 0x90, key, 90);
    at(fromSec + noteSec);
    track.push(0x80, key, 0);
  }
  track.push(...variableLength(TICKS_PER_SEC), 0xff, 0x2f, 0);
  return track;
}

/** A Standard MIDI File of one track, given as its events with their delta times, at so many ticks a second (even). */
export function midiFile(track: readonly number[], ticksPerSec: number): Uint8Array {
  const whole = [0, 0xff, 0x51, 3, 0x07, 0xa1, 0x20, ...track];
  const number = (value: number, bytes: number): number[] =>
    Array.from({ length: bytes }, (_, n) => (value >> (8 * (bytes - 1 - n))) & 255);
  const text = (word: string): number[] => [...word].map((letter) => letter.charCodeAt(0));
  const head = [...text('MThd'), ...number(6, 4), ...number(0, 2), ...number(1, 2), ...number(ticksPerSec / 2, 2)];
  return Uint8Array.from([...head, ...text('MTrk'), ...number(whole.length, 4), ...whole]);
}

export function variableLength(value: number): number[] {
  const bytes = [value & 127];
  for (let rest = value >> 7; rest > 0; rest >>= 7) bytes.unshift((rest & 127) | 128);
  return bytes;
}

/**
 * What a dry note sounds at, by two ways of their own over its whole steady length: the peak of its autocorrelation, and the peaks of
 * its first eight partials in one long Hann spectrum, weighted by power times number; `halves`: the first way
 * on each half of it. Cents off its key.
 */
export function longReading(
  sound: Float32Array,
  note: SampledNote,
): { byRepeat: number; bySpectrum: number; halves: readonly number[] } {
  const first = Math.round((note.fromSec + 0.09) * SAMPLED_RATE_HZ);
  const stretch = sound.subarray(first, Math.round((note.toSec - 0.05) * SAMPLED_RATE_HZ));
  const keyHz = 440 * 2 ** ((note.key - 69) / 12);
  const cents = (hz: number): number => 1200 * Math.log2(hz / keyHz);
  const middle = stretch.length >> 1;
  return {
    byRepeat: cents(repeatHz(stretch, keyHz)),
    bySpectrum: cents(spectrumHz(stretch, keyHz)),
    halves: [stretch.subarray(0, middle), stretch.subarray(middle)].map((half) => cents(repeatHz(half, keyHz))),
  };
}

/** Pitch of a stretch by the peak of its autocorrelation, Hz. */
export function repeatHz(stretch: Float32Array, keyHz: number): number {
  // Twice the stretch, so that nothing of it comes round; the smaller size is done by the kernel.
  const fft = plannedFft(stretch.length <= 32768 ? 65536 : 131072);
  const row = new Float64Array(fft.size);
  row.set(stretch);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  fft.forward(row, re, im);
  for (let k = 0; k < fft.bins; k++) {
    const isRumble = (k * SAMPLED_RATE_HZ) / fft.size < 0.6 * keyHz;
    re[k] = isRumble ? 0 : re[k]! ** 2 + im[k]! ** 2;
    im[k] = 0;
  }
  fft.inverse(re, im, row);
  const like = (lag: number): number => row[lag]! / (1 - lag / stretch.length);
  let period = SAMPLED_RATE_HZ / keyHz;
  // Longer lags tell the period more finely, as long as the sound repeats over them.
  for (let times = 1; times * period < 0.5 * stretch.length; times *= 2) {
    const half = Math.max(2, (times === 1 ? 0.035 : 0.3) * period);
    let best = Math.round(times * period - half);
    for (let lag = best; lag <= times * period + half; lag++) if (like(lag) > like(best)) best = lag;
    if (like(best) < 0.6 * row[0]!) break;
    period = (best + peakShift(like(best - 1), like(best), like(best + 1))) / times;
  }
  return SAMPLED_RATE_HZ / period;
}

/** The same by the peaks of its first eight partials. */
export function spectrumHz(stretch: Float32Array, keyHz: number): number {
  const size = 262144;
  const fft = plannedFft(size);
  const row = new Float64Array(size);
  for (const [n, value] of stretch.entries()) row[n] = value * Math.sin((Math.PI * n) / stretch.length) ** 2;
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  fft.forward(row, re, im);
  const power = (k: number): number => re[k]! ** 2 + im[k]! ** 2;
  let sum = 0;
  let weights = 0;
  for (let number = 1; number <= 8; number++) {
    const place = (number * keyHz * size) / SAMPLED_RATE_HZ;
    const last = Math.min(fft.bins - 2, Math.ceil(place * 2 ** (60 / 1200)));
    let best = Math.floor(place * 2 ** (-60 / 1200));
    for (let k = best; k <= last; k++) if (power(k) > power(best)) best = k;
    const shift = peakShift(Math.log(power(best - 1)), Math.log(power(best)), Math.log(power(best + 1)));
    const weight = power(best) * number;
    sum += (weight * (best + shift) * SAMPLED_RATE_HZ) / size / number;
    weights += weight;
  }
  return sum / weights;
}

function peakShift(before: number, here: number, after: number): number {
  const bend = before - 2 * here + after;
  return bend < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (before - after)) / bend)) : 0;
}
