import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Random } from '../../core/signal/random.ts';
import { inRoom, soundingLevel } from '../core/pitch/pitch-kit.ts';
import { type CutInstrument, type CutNote, guideOf, inventNotes, midiOf, playedEvents } from './cut-take-melody.ts';
import { SAMPLED_RATE_HZ, synthesized } from './sampled-notes.ts';

/** Takes as a phone would make them that drops a buffer: played by samples, in a room, with noise, cut, coded. The truth is beside them. */

export const TAKE_RATE_HZ = SAMPLED_RATE_HZ;
const SILENCE_SEC = 3;

/** Where a cut lies: in a held tone, within 40 ms of an attack, in a rest, or anywhere in the music. */
export type CutKind = 'held' | 'attack' | 'rest' | 'anywhere';

export interface CutWish {
  readonly kind: CutKind;
  /** Sound that is lost, s; negative where it is doubled. */
  readonly lostSec: number;
}

export interface CutTakePlan {
  readonly seed: number;
  readonly instrument: CutInstrument;
  readonly musicSec: number;
  /** The playing over the noise, dB, where it plays. */
  readonly snrDb: number;
  /** Time in which the room dies away by 60 dB, s. */
  readonly roomSec: number;
  /** The guide's leakage against the playing, dB; null without. */
  readonly bleedDb: number | null;
  readonly driftPpm: number;
  /** How far notes stray from their time, s, one standard deviation; a third of it slowly. */
  readonly scatterSec: number;
  /** Who plays: takes of one seed and several players are voices of one piece. The seed's own where absent. */
  readonly playerSeed?: number;
  /** Whether the player claps on the cue; true where absent. */
  readonly hasClap?: boolean;
  /** In order of time, shared out over the music. */
  readonly cuts: readonly CutWish[];
  /** PCM, or AAC at 128 kbit/s after the cut. */
  readonly coded: 'pcm' | 'aac';
}

/** A cut as it was made. */
export interface TrueCut {
  readonly kind: CutKind;
  readonly lostSec: number;
  /** In the finished take, s. */
  readonly takeSec: number;
}

export interface CutTake {
  readonly samples: Float32Array;
  /** What the player heard; session time zero is its first sample. */
  readonly guide: Float32Array;
  /** Take time of session time s, before any cut: leadSec + (1 + driftPpm / 1e6) s. */
  readonly leadSec: number;
  readonly driftPpm: number;
  readonly cuts: readonly TrueCut[];
  readonly notes: readonly CutNote[];
  readonly cueSec: number;
  readonly musicFromSec: number;
  readonly musicToSec: number;
  /** Mean of the beats, s. */
  readonly beatSec: number;
}

/** Where a moment of the session lies in a take, cuts reckoned in, s. */
export function takeSecOf(take: Pick<CutTake, 'leadSec' | 'driftPpm' | 'cuts'>, sessionSec: number): number {
  let at = take.leadSec + sessionSec * (1 + take.driftPpm * 1e-6);
  for (const { takeSec, lostSec } of take.cuts) if (at > takeSec) at = Math.max(takeSec, at - lostSec);
  return at;
}

/** Makes a take by its plan. folder: for the files between. The same plan gives the same take. */
export function makeCutTake(plan: CutTakePlan, folder: string): CutTake {
  const random = new Random(plan.seed);
  const beatSec = 0.45 + 0.3 * random.uniform();
  const cueSec = SILENCE_SEC + 0.5;
  const musicFromSec = cueSec + 4 * beatSec + 0.5;
  const musicToSec = musicFromSec + plan.musicSec;
  const notes = inventNotes(plan, random, beatSec, musicFromSec, musicToSec);
  const guide = guideOf(notes, cueSec, musicFromSec, musicToSec, beatSec, folder);
  const own = plan.playerSeed === undefined ? random : new Random(plan.playerSeed + 1);
  const leadSec = 0.3 + 2 * own.uniform();
  const speed = 1 + plan.driftPpm * 1e-6;
  const onClock = (sec: number): number => leadSec + sec * speed;
  const events = playedEvents(plan, notes, own).map((event) => ({ ...event, sec: onClock(event.sec) }));
  const dry = synthesized(midiOf(events), folder);
  const whole = new Float32Array(Math.round((onClock(musicToSec) + 1.5) * TAKE_RATE_HZ));
  addInRoom(whole, dry.subarray(0, whole.length), plan);
  const loud = soundingLevel(whole);
  for (let n = 0; n < whole.length; n++) whole[n]! *= 0.08 / loud;
  if (plan.bleedDb !== null) addBleed(whole, guide, 0.08 * 10 ** (plan.bleedDb / 20), leadSec, speed);
  if (plan.hasClap ?? true) addClap(whole, onClock(cueSec + 0.006 * own.gaussian()), own);
  addNoise(whole, 0.08 * 10 ** (-plan.snrDb / 20), own);
  const heard = notes.map((note) => ({
    fromSec: onClock(note.playedSec),
    toSec: onClock(note.playedSec + note.lengthSec),
  }));
  const { samples, cuts } = cutAt(whole, heard, plan.cuts, own);
  const finished = plan.coded === 'aac' ? coded(samples, folder) : samples;
  const { driftPpm } = plan;
  return { samples: finished, guide, leadSec, driftPpm, cuts, notes, cueSec, musicFromSec, musicToSec, beatSec };
}

/** The player in a room, piece by piece, since the room's transform has a greatest size. */
function addInRoom(to: Float32Array, dry: Float32Array, { roomSec, seed }: CutTakePlan): void {
  const piece = 10 * TAKE_RATE_HZ;
  const tail = Math.round(roomSec * TAKE_RATE_HZ);
  for (let from = 0; from < dry.length; from += piece) {
    const padded = new Float32Array(piece + tail);
    padded.set(dry.subarray(from, from + piece));
    const wet = inRoom(padded, roomSec, 4, seed + 1, TAKE_RATE_HZ);
    for (let n = 0; n < wet.length && from + n < to.length; n++) to[from + n]! += wet[n]!;
  }
}

/** Takes sound out of a take, or doubles it, at places from a seed. heard: its notes, in its own time. */
export function cutAt(
  whole: Float32Array,
  heard: readonly { readonly fromSec: number; readonly toSec: number }[],
  wishes: readonly CutWish[],
  random: Random,
): { samples: Float32Array; cuts: TrueCut[] } {
  const from = heard[0]!.fromSec;
  const share = (heard.at(-1)!.toSec - from) / Math.max(1, wishes.length);
  const pieces: Float32Array[] = [];
  const cuts: TrueCut[] = [];
  let done = 0;
  let given = 0;
  for (const [index, { kind, lostSec }] of wishes.entries()) {
    const span = [from + (index + 0.1) * share, from + (index + 0.9) * share] as const;
    const sec = placeOf(kind, heard, span, random);
    if (sec === undefined) continue;
    const at = Math.round(sec * TAKE_RATE_HZ);
    pieces.push(whole.subarray(done, at));
    given += at - done;
    done = at + Math.round(lostSec * TAKE_RATE_HZ);
    cuts.push({ kind, lostSec, takeSec: given / TAKE_RATE_HZ });
  }
  pieces.push(whole.subarray(done));
  const samples = new Float32Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
  let filled = 0;
  for (const piece of pieces) {
    samples.set(piece, filled);
    filled += piece.length;
  }
  return { samples, cuts };
}

function placeOf(
  kind: CutKind,
  heard: readonly { readonly fromSec: number; readonly toSec: number }[],
  [from, to]: readonly [number, number],
  random: Random,
): number | undefined {
  if (kind === 'anywhere') return from + (to - from) * random.uniform();
  const spans = heard.flatMap(({ fromSec, toSec }, n): (readonly [number, number])[] => {
    if (kind === 'attack') return [[fromSec - 0.01, fromSec + 0.04]];
    if (kind === 'held') return [[fromSec + 0.15, toSec - 0.06]];
    // The room dies away first.
    return [[toSec + 0.15, (heard[n + 1]?.fromSec ?? toSec) - 0.08]];
  });
  const fitting = spans.filter(([a, b]) => a > from && b < to && b - a > 0.02);
  const chosen = fitting[Math.floor(random.uniform() * fitting.length)];
  return chosen && chosen[0] + (chosen[1] - chosen[0]) * random.uniform();
}

/** The guide on the take's clock as headphones let it out: 0.3 to 5 kHz. level: root of its mean power. */
function addBleed(to: Float32Array, guide: Float32Array, level: number, leadSec: number, speed: number): void {
  const thin = new Float64Array(guide.length);
  let low = 0;
  let high = 0;
  for (let n = 0; n < guide.length; n++) {
    const value = guide[n]!;
    low += (1 - Math.exp((-2 * Math.PI * 300) / TAKE_RATE_HZ)) * (value - low);
    high += (1 - Math.exp((-2 * Math.PI * 5000) / TAKE_RATE_HZ)) * (value - low - high);
    thin[n] = high;
  }
  const gain = level / soundingLevel(Float32Array.from(thin));
  for (let n = 0; n < to.length; n++) {
    const at = ((n / TAKE_RATE_HZ - leadSec) / speed) * TAKE_RATE_HZ;
    const k = Math.floor(at);
    if (k < 1 || k + 2 >= thin.length) continue;
    // Cubic by Catmull and Rom: what is bent above 5 kHz is faint here.
    const [a, b, c, d] = [thin[k - 1]!, thin[k]!, thin[k + 1]!, thin[k + 2]!];
    const t = at - k;
    const bent = b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)));
    to[n]! += gain * bent;
  }
}

function addClap(to: Float32Array, atSec: number, random: Random): void {
  for (let n = 0; n < 0.25 * TAKE_RATE_HZ; n++) {
    const t = n / TAKE_RATE_HZ;
    const envelope = t < 0.002 ? t / 0.002 : Math.exp(-(t - 0.002) / 0.015) + 0.05 * Math.exp(-t / 0.08);
    to[Math.round(atSec * TAKE_RATE_HZ) + n]! += 0.25 * envelope * random.gaussian();
  }
}

/** The noise of a room and a microphone: half of it even, half of it falling above 200 Hz, and mains hum in one take of two. */
function addNoise(to: Float32Array, level: number, random: Random): void {
  const humHz = random.uniform() < 0.5 ? 50 : 60;
  const hum = random.uniform() < 0.5 ? 0 : level * 0.5;
  const phase = 2 * Math.PI * random.uniform();
  const share = 1 - Math.exp((-2 * Math.PI * 200) / TAKE_RATE_HZ);
  const scale = Math.sqrt((2 - share) / share);
  let low = 0;
  for (let n = 0; n < to.length; n++) {
    low += share * (random.gaussian() - low);
    const turn = (2 * Math.PI * humHz * n) / TAKE_RATE_HZ + phase;
    to[n]! += level * 0.7 * (random.gaussian() + scale * low) + hum * (Math.sin(turn) + 0.3 * Math.sin(3 * turn));
  }
}

/** Through AAC at 128 kbit/s and back. */
export function coded(samples: Float32Array, folder: string): Float32Array {
  const raw = join(folder, 'take.f32');
  const clip = join(folder, 'take.m4a');
  const shape = ['-f', 'f32le', '-ar', String(TAKE_RATE_HZ), '-ac', '1'];
  writeFileSync(raw, new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength));
  const quiet = ['-nostdin', '-v', 'error', '-y'];
  execFileSync('ffmpeg', [...quiet, ...shape, '-i', raw, '-c:a', 'aac', '-b:a', '128k', clip]);
  return decoded(clip, folder).slice(0, samples.length);
}

/** A clip's sound, mono at 48 kHz. */
export function decoded(clip: string, folder: string): Float32Array {
  const raw = join(folder, 'decoded.f32');
  const shape = ['-f', 'f32le', '-ar', String(TAKE_RATE_HZ), '-ac', '1'];
  execFileSync('ffmpeg', ['-nostdin', '-v', 'error', '-y', '-i', clip, '-vn', ...shape, raw]);
  const bytes = readFileSync(raw);
  return new Float32Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength));
}
