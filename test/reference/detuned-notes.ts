import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { pitchOfSpan, type SpanPitch } from '../../core/pitch/pitch-span.ts';
import type { PitchTrack } from '../../core/pitch/pitch-tracker.ts';
import { Random } from '../../core/signal/random.ts';
import { inRoom, noisy, RATE_HZ, tracked } from '../core/pitch/pitch-kit.ts';
import type { Player } from './melody-cases.ts';
import { foldedPairs } from './sampled-melody.ts';
import { midiFile, repeatHz, SAMPLED_RATE_HZ, spectrumHz, variableLength } from './sampled-notes.ts';

const FONT = '/usr/share/sounds/sf2/FluidR3_GM.sf2';
const TICKS_PER_SEC = 960;
/** Notes take turns on so many channels, so that what rings of one is not bent with the next. */
const CHANNELS = 9;
/** As in sampled-notes.ts: a bend of two half tones, rounded down to whole cents. */
const BEND_CENTS = 198.4375;
const VIBRATO_EACH_SEC = 0.005;
/** The two long readings of a dry note may differ by this; else it has no one pitch, cents. */
const STEADY_CENTS = 5;

/** A note of which is known what it is off its own key; times in s. */
export interface DetunedNote {
  readonly fromSec: number;
  readonly toSec: number;
  readonly key: number;
  /** Whole. */
  readonly cents: number;
  readonly velocity: number;
  /** Swings about that; of none 0. */
  readonly vibratoHz: number;
  readonly vibratoCents: number;
}

/** What was read of a note in a room, and of the same dry, cents above its key as it was commanded. */
export interface ReadNote {
  readonly player: Player;
  readonly note: DetunedNote;
  readonly t60Sec: number;
  readonly snrDb: number;
  readonly track: PitchTrack;
  readonly read: SpanPitch;
  /** Of what is read: off the dry note by the same reading, and by two long ones; null where those do not agree. */
  readonly offCents: number;
  readonly offLongCents: number | null;
}

/** How many notes of each length a player plays, and how many with a vibrato. */
export interface NoteCounts {
  readonly plain: readonly (readonly [lengthSec: number, count: number])[];
  readonly vibrato: number;
}

/** Players' detuned notes, each read in `rooms` rooms and dry. */
export function readDetuned(
  players: readonly Player[],
  seed: number,
  counts: NoteCounts,
  rooms: number,
  folder: string,
): ReadNote[] {
  const rows = players.flatMap((player, at) => {
    const random = new Random(1000 * seed + at);
    const plain = { player, notes: plainNotes(player, random, counts.plain) };
    const swings = player.family !== 'plucked' && player.family !== 'keyed';
    return swings ? [plain, { player, notes: vibratoNotes(player, random, counts.vibrato) }] : [plain];
  });
  const bare = rows.map(({ player, notes }) => ({
    player,
    notes: notes.map((note) => ({ ...note, cents: 0, vibratoCents: 0 })),
  }));
  const wet = playRows(rows, folder, RATE_HZ);
  const dry = playRows(bare, folder, RATE_HZ);
  const fine = playRows(bare, folder, SAMPLED_RATE_HZ);
  return rows.flatMap(({ player, notes }, row) => {
    const dryTrack = tracked(dry[row]!);
    const longs = notes.map((note) => longCents(fine[row]!, note));
    return Array.from({ length: rooms }, (_, room) => {
      const own = 1000 * seed + rooms * row + room;
      const random = new Random(own);
      const t60Sec = 0.25 + 0.55 * random.uniform();
      const snrDb = 12 + 24 * random.uniform();
      const track = tracked(noisy(inRoom(wet[row]!, t60Sec, 8 * random.uniform(), own + 1), snrDb, own + 2));
      return notes.flatMap((note, at): ReadNote[] => {
        const near = 100 * (note.key - 69);
        const read = pitchOfSpan(track, note.fromSec, note.toSec, near + note.cents);
        const dryRead = pitchOfSpan(dryTrack, note.fromSec, note.toSec, near);
        if (read === undefined || dryRead === undefined) return [];
        const off = read.cents - near - note.cents;
        const long = longs[at]!;
        const offs = { offCents: off - dryRead.cents + near, offLongCents: long === null ? null : off - long };
        return [{ player, note, t60Sec, snrDb, track, read, ...offs }];
      });
    }).flat();
  });
}

/** What a dry note sounds at above its key by both long readings of sampled-notes.ts; null where they do not agree. */
function longCents(sound: Float32Array, { fromSec, toSec, key }: DetunedNote): number | null {
  const length = toSec - fromSec;
  const first = Math.round((fromSec + Math.min(0.09, 0.3 * length)) * SAMPLED_RATE_HZ);
  const stretch = sound.subarray(first, Math.round((toSec - Math.min(0.05, 0.2 * length)) * SAMPLED_RATE_HZ));
  const keyHz = 440 * 2 ** ((key - 69) / 12);
  const [byRepeat, bySpectrum] = [repeatHz, spectrumHz].map((read) => 1200 * Math.log2(read(stretch, keyHz) / keyHz));
  return Math.abs(byRepeat! - bySpectrum!) < STEADY_CENTS ? 0.5 * (byRepeat! + bySpectrum!) : null;
}

function within(random: Random, low: number, high: number): number {
  return low + (high - low) * random.uniform();
}

function keysOf(player: Player, random: Random): () => number {
  let key = Math.round(within(random, player.low, player.high));
  return () => {
    let next = key;
    while (next === key || next < player.low || next > player.high) next = key + Math.round(within(random, -7, 7));
    key = next;
    return key;
  };
}

/** One length after the other; half of the notes ring into the next, the others rest before it. */
function plainNotes(player: Player, random: Random, lengths: NoteCounts['plain']): DetunedNote[] {
  const notes: DetunedNote[] = [];
  const nextKey = keysOf(player, random);
  let sec = 0.5;
  for (const [lengthSec, count] of lengths) {
    for (let n = 0; n < count; n++) {
      const cents = Math.round(within(random, -35, 35));
      const velocity = Math.round(within(random, 65, 105));
      const note = { fromSec: sec, toSec: sec + lengthSec, key: nextKey(), cents, velocity };
      notes.push({ ...note, vibratoHz: 0, vibratoCents: 0 });
      sec += lengthSec + (random.uniform() < 0.5 ? 0 : within(random, 0.03, 0.15));
    }
    sec += 0.5;
  }
  return notes;
}

function vibratoNotes(player: Player, random: Random, count: number): DetunedNote[] {
  const notes: DetunedNote[] = [];
  const nextKey = keysOf(player, random);
  let sec = 0.5;
  for (let n = 0; n < count; n++) {
    const lengthSec = within(random, 0.4, 1.5);
    const cents = Math.round(within(random, -35, 35));
    const vibrato = { vibratoHz: within(random, 4.5, 7), vibratoCents: within(random, 12, 60) };
    notes.push({ fromSec: sec, toSec: sec + lengthSec, key: nextKey(), cents, velocity: 85, ...vibrato });
    sec += lengthSec + (random.uniform() < 0.5 ? 0 : 0.1);
  }
  return notes;
}

interface NoteRow {
  readonly player: Player;
  readonly notes: readonly DetunedNote[];
}

/** Plays rows with FluidSynth and FluidR3 (both Debian), reverb and chorus off, all in one go; each mono. */
function playRows(rows: readonly NoteRow[], folder: string, rateHz: number): Float32Array[] {
  const lengths = rows.map(({ notes }) => Math.max(...notes.map((note) => note.toSec)));
  const begins: number[] = [];
  let end = 0;
  for (const length of lengths) {
    begins.push(end);
    end += Math.ceil(length + 2);
  }
  const [midi, raw] = [join(folder, 'detuned.mid'), join(folder, 'detuned.raw')];
  writeFileSync(midi, midiFile(trackOf(rows, begins), TICKS_PER_SEC));
  const options = ['-R', '0', '-C', '0', '-r', String(rateHz), '-g', '0.6', '-O', 'float', '-T', 'raw'];
  execFileSync('fluidsynth', ['-ni', '-q', ...options, '-F', raw, FONT, midi], { stdio: 'ignore' });
  const bytes = readFileSync(raw);
  const both = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length >> 2);
  return rows.map((_, row) => {
    return foldedPairs(both, Math.round(begins[row]! * rateHz), Math.round((lengths[row]! + 1.2) * rateHz));
  });
}

function trackOf(rows: readonly NoteRow[], begins: readonly number[]): number[] {
  const events: { readonly tick: number; readonly order: number; readonly bytes: readonly number[] }[] = [];
  const at = (sec: number, order: number, bytes: readonly number[]): void => {
    events.push({ tick: Math.round(sec * TICKS_PER_SEC), order, bytes });
  };
  for (const [row, { player, notes }] of rows.entries()) {
    const begin = begins[row]!;
    for (let channel = 0; channel < CHANNELS; channel++) at(begin, -2, [0xc0 + channel, player.program]);
    for (const [n, note] of notes.entries()) {
      const channel = n % CHANNELS;
      const bend = (afterSec: number, cents: number): void => {
        // Just above the whole cent, so that rounding down gives it.
        const value = Math.round(8192 * (1 + (cents === 0 ? 0 : cents + 0.05) / BEND_CENTS));
        at(begin + note.fromSec + afterSec, 0, [0xe0 + channel, value & 127, value >> 7]);
      };
      bend(0, note.cents);
      const lengthSec = note.toSec - note.fromSec;
      for (let sec = VIBRATO_EACH_SEC; note.vibratoCents > 0 && sec < lengthSec + 0.3; sec += VIBRATO_EACH_SEC) {
        // What is rounded down lies half a cent lower on the whole.
        bend(sec, note.cents + 0.45 + note.vibratoCents * Math.sin(2 * Math.PI * note.vibratoHz * sec));
      }
      at(begin + note.fromSec, 2, [0x90 + channel, note.key, note.velocity]);
      at(begin + note.toSec, 1, [0x80 + channel, note.key, 0]);
    }
  }
  events.sort((a, b) => a.tick - b.tick || a.order - b.order);
  const track: number[] = [];
  for (let channel = 0; channel < CHANNELS; channel++) {
    for (const [controller, value] of [101, 100, 6, 38].map((one, n) => [one, n === 2 ? 2 : 0] as const)) {
      track.push(0, 0xb0 + channel, controller, value);
    }
  }
  let tick = 0;
  for (const event of events) {
    for (const byte of variableLength(event.tick - tick)) track.push(byte);
    for (const byte of event.bytes) track.push(byte);
    tick = event.tick;
  }
  track.push(...variableLength(TICKS_PER_SEC), 0xff, 0x2f, 0);
  return track;
}
