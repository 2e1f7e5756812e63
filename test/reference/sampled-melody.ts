import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/** Of the samples only those that are played are read: reading all 140 MB took longer than playing. */
const ONLY_WHAT_IS_PLAYED = ['-o', 'synth.dynamic-sample-loading=1'];
const FONT = '/usr/share/sounds/sf2/FluidR3_GM.sf2';
const TICKS_PER_SEC = 960;
const ATTACK_RATE_HZ = 24000;
/** Bends reach this far, half tones. */
const BEND_REACH = 12;
/** Between the end of one melody and the beginning of the next, s. */
const APART_SEC = 1.6;

/** A key held down; times in s of the sound. */
export interface MelodyNote {
  readonly fromSec: number;
  readonly toSec: number;
  readonly key: number;
  /** MIDI velocity, 1 to 127. */
  readonly velocity: number;
}

/** What one General MIDI program plays. */
export interface Melody {
  readonly program: number;
  readonly notes: readonly MelodyNote[];
  /** Cents by which all that sounds is bent at a time; told every 5 ms. */
  readonly bend?: (sec: number) => number;
  /** Gain of the dry sound at a time, dB. */
  readonly gainDb?: (sec: number) => number;
}

/**
 * Plays melodies with FluidSynth and FluidR3 (both Debian), reverb and chorus off, all in one go, since reading the font is what costs.
 * Each mono, from its time 0 to 1 s after its last note.
 */
export function playMelodies(melodies: readonly Melody[], folder: string, rateHz: number): Float32Array[] {
  const midi = join(folder, 'melody.mid');
  const raw = join(folder, 'melody.raw');
  const begins: number[] = [];
  let end = 0;
  for (const melody of melodies) {
    begins.push(end);
    end += Math.ceil(lastSec(melody) + APART_SEC);
  }
  writeFileSync(midi, midiOf(melodies, begins));
  const options = ['-R', '0', '-C', '0', '-r', String(rateHz), '-g', '0.6', '-O', 'float', '-T', 'raw'];
  execFileSync('fluidsynth', ['-ni', '-q', ...ONLY_WHAT_IS_PLAYED, ...options, '-F', raw, FONT, midi], {
    stdio: 'ignore',
  });
  const bytes = readFileSync(raw);
  const both = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length >> 2);
  return melodies.map((melody, index) => {
    const first = Math.round(begins[index]! * rateHz);
    const sound = foldedPairs(both, first, Math.round((lastSec(melody) + 1) * rateHz));
    const { gainDb } = melody;
    if (gainDb === undefined) return sound;
    return sound.map((sample, n) => sample * 10 ** (gainDb(n / rateHz) / 20));
  });
}

/** The mean of two channels whose samples take turns, from a frame on; silence after their end. */
export function foldedPairs(both: Float32Array, firstFrame: number, frames: number): Float32Array {
  // A loop: a typed array made by a function of each place took ten times as long.
  const folded = new Float32Array(frames);
  const last = Math.min(frames, (both.length >> 1) - firstFrame);
  for (let n = 0, at = 2 * firstFrame; n < last; n++, at += 2) folded[n] = 0.5 * (both[at]! + both[at + 1]!);
  return folded;
}

/**
 * When each note of each melody is heard to begin after its key goes down, s: where the dry note alone comes within 10 dB of its
 * greatest level in 150 ms. Source: Vos and Rasch 1981, "The perceptual onset of musical tones", Perception and Psychophysics 29.
 */
export function attacksOf(melodies: readonly Melody[], folder: string): number[][] {
  const alone = new Map<string, Melody>();
  for (const { program, notes } of melodies) {
    for (const { key } of notes) {
      alone.set(`${program} ${key}`, { program, notes: [{ fromSec: 0.1, toSec: 0.5, key, velocity: 85 }] });
    }
  }
  const sounds = playMelodies([...alone.values()], folder, ATTACK_RATE_HZ);
  const rises = new Map([...alone.keys()].map((name, index) => [name, riseSec(sounds[index]!, 0.1)]));
  return melodies.map(({ program, notes }) =>
    notes.map(({ key, fromSec, toSec }) => Math.min(toSec - fromSec, rises.get(`${program} ${key}`)!)),
  );
}

function riseSec(sound: Float32Array, fromSec: number): number {
  const levels = Array.from({ length: 75 }, (_, step) => {
    const middle = Math.round((fromSec + 0.002 * step) * ATTACK_RATE_HZ);
    let sum = 1e-14;
    for (let n = middle - 120; n < middle + 120; n++) sum += (sound[n] ?? 0) ** 2;
    return 10 * Math.log10(sum / 240);
  });
  const wanted = Math.max(...levels) - 10;
  return 0.002 * levels.findIndex((level) => level >= wanted);
}

function lastSec({ notes }: Melody): number {
  return Math.max(...notes.map((note) => note.toSec));
}

function midiOf(melodies: readonly Melody[], begins: readonly number[]): Uint8Array {
  const events: { tick: number; order: number; bytes: number[] }[] = [];
  const at = (sec: number, order: number, bytes: number[]): void => {
    events.push({ tick: Math.round(sec * TICKS_PER_SEC), order, bytes });
  };
  for (const [index, melody] of melodies.entries()) {
    const begin = begins[index]!;
    at(begin, -2, [0xc0, melody.program]);
    at(begin, -1, [0xe0, 0, 64]);
    for (const note of melody.notes) {
      at(begin + note.fromSec, 2, [0x90, note.key, note.velocity]);
      at(begin + note.toSec, 1, [0x80, note.key, 0]);
    }
    const { bend } = melody;
    let last = 8192;
    for (let sec = 0; bend !== undefined && sec < lastSec(melody) + 0.5; sec += 0.005) {
      const value = Math.max(0, Math.min(16383, Math.round(8192 * (1 + bend(sec) / (100 * BEND_REACH)))));
      if (value !== last) at(begin + sec, 0, [0xe0, value & 127, value >> 7]);
      last = value;
    }
  }
  events.sort((a, b) => a.tick - b.tick || a.order - b.order);
  const reach = [101, 0, 100, 0, 6, BEND_REACH, 38, 0];
  const track: number[] = [];
  for (let n = 0; n < reach.length; n += 2) track.push(0, 0xb0, reach[n]!, reach[n + 1]!);
  let tick = 0;
  for (const event of events) {
    track.push(...variableLength(event.tick - tick), ...event.bytes);
    tick = event.tick;
  }
  track.push(...variableLength(TICKS_PER_SEC), 0xff, 0x2f, 0);
  const whole = [0, 0xff, 0x51, 3, 0x07, 0xa1, 0x20, ...track];
  const number = (value: number, bytes: number): number[] =>
    Array.from({ length: bytes }, (_, n) => (value >> (8 * (bytes - 1 - n))) & 255);
  const text = (word: string): number[] => [...word].map((letter) => letter.charCodeAt(0));
  const head = [...text('MThd'), ...number(6, 4), ...number(0, 2), ...number(1, 2), ...number(TICKS_PER_SEC / 2, 2)];
  return Uint8Array.from([...head, ...text('MTrk'), ...number(whole.length, 4), ...whole]);
}

function variableLength(value: number): number[] {
  const bytes = [value & 127];
  for (let rest = value >> 7; rest > 0; rest >>= 7) bytes.unshift((rest & 127) | 128);
  return bytes;
}
