import { Random } from '../../core/signal/random.ts';
import { midiFile, SAMPLED_RATE_HZ, synthesized, variableLength } from './sampled-notes.ts';

const TICKS_PER_SEC = 960;

/** General MIDI program, lowest and highest key, depth of vibrato in cents, and whether it rings on after its note. */
const INSTRUMENTS = {
  violin: [40, 55, 88, 18, false],
  cello: [42, 38, 69, 15, false],
  contrabass: [43, 30, 52, 6, false],
  flute: [73, 62, 88, 12, false],
  oboe: [68, 60, 84, 10, false],
  clarinet: [71, 52, 82, 0, false],
  bassoon: [70, 36, 62, 5, false],
  trumpet: [56, 56, 79, 5, false],
  tuba: [58, 30, 55, 0, false],
  guitar: [24, 42, 74, 0, true],
  bassGuitar: [33, 29, 53, 0, true],
  piano: [0, 40, 80, 0, true],
  voice: [53, 47, 77, 22, false],
} as const;

/** More of them, for trials in which nothing is cut. */
const MORE_INSTRUMENTS = {
  recorder: [74, 65, 91, 4, false],
  panFlute: [75, 60, 84, 6, false],
  viola: [41, 48, 77, 16, false],
  strings: [48, 43, 79, 0, false],
  choir: [52, 45, 76, 10, false],
  harp: [46, 43, 84, 0, true],
  pizzicato: [45, 45, 79, 0, true],
  steelGuitar: [25, 42, 74, 0, true],
  harpsichord: [6, 43, 79, 0, true],
  vibraphone: [11, 53, 84, 0, true],
  horn: [60, 41, 72, 4, false],
  trombone: [57, 40, 67, 4, false],
  englishHorn: [69, 54, 78, 8, false],
  saxophone: [65, 52, 78, 10, false],
  accordion: [21, 53, 84, 0, false],
  tremolo: [44, 48, 79, 0, false],
  celesta: [8, 60, 91, 0, true],
  harmonica: [22, 60, 84, 6, false],
  dulcimer: [15, 52, 79, 0, true],
  ocarina: [79, 65, 86, 5, false],
  banjo: [105, 50, 76, 0, true],
  sopranoSaxophone: [64, 58, 82, 8, false],
  mutedTrumpet: [59, 56, 79, 5, false],
  piccolo: [72, 74, 96, 8, false],
  shakuhachi: [77, 60, 84, 6, false],
  whistle: [78, 72, 91, 6, false],
  shanai: [111, 60, 81, 8, false],
  bagpipe: [109, 60, 79, 0, false],
  fiddle: [110, 55, 86, 14, false],
  sitar: [104, 48, 72, 0, true],
  shamisen: [106, 50, 74, 0, true],
  koto: [107, 50, 79, 0, true],
  kalimba: [108, 60, 84, 0, true],
  marimba: [12, 48, 84, 0, true],
  xylophone: [13, 65, 96, 0, true],
  musicBox: [10, 60, 91, 0, true],
  glockenspiel: [9, 72, 96, 0, true],
  churchOrgan: [19, 43, 79, 0, false],
  reedOrgan: [20, 43, 79, 0, false],
  organ: [16, 43, 79, 0, false],
  bandoneon: [23, 48, 81, 0, false],
  baritoneSax: [67, 38, 64, 6, false],
  tenorSax: [66, 46, 72, 8, false],
  jazzGuitar: [26, 42, 74, 0, true],
  fretless: [35, 29, 53, 0, true],
  clavichord: [7, 43, 79, 0, true],
  electricPiano: [4, 43, 79, 0, true],
  oohs: [54, 50, 77, 10, false],
  synthStrings: [50, 43, 79, 0, false],
  brassSection: [61, 43, 76, 0, false],
  slowStrings: [49, 43, 79, 0, false],
  tubularBells: [14, 60, 77, 0, true],
  rockOrgan: [18, 43, 79, 0, false],
  percOrgan: [17, 43, 79, 0, false],
  honkyTonk: [3, 43, 79, 0, true],
  brightPiano: [1, 43, 79, 0, true],
  grand: [2, 43, 79, 0, true],
  epiano2: [5, 43, 79, 0, true],
  cleanGuitar: [27, 42, 74, 0, true],
  mutedGuitar: [28, 42, 74, 0, true],
  overdrive: [29, 42, 74, 0, false],
  acousticBass: [32, 29, 53, 0, true],
  pickBass: [34, 29, 53, 0, true],
  slapBass: [36, 29, 53, 0, true],
  synthBrass: [62, 43, 76, 0, false],
  bottle: [76, 60, 84, 0, false],
  calliope: [82, 60, 84, 0, false],
  square: [80, 48, 84, 0, false],
  saw: [81, 48, 84, 0, false],
  charang: [84, 48, 79, 0, false],
  voiceLead: [85, 50, 77, 0, false],
  warmPad: [89, 43, 79, 0, false],
  steelDrums: [114, 52, 79, 0, true],
} as const;

const ALL_INSTRUMENTS = { ...INSTRUMENTS, ...MORE_INSTRUMENTS };

export type CutInstrument = keyof typeof ALL_INSTRUMENTS;
export const CUT_INSTRUMENTS = Object.keys(INSTRUMENTS) as readonly CutInstrument[];
export const PLAYED_INSTRUMENTS = Object.keys(ALL_INSTRUMENTS) as readonly CutInstrument[];

/** General MIDI program of an instrument. */
export function programOf(instrument: CutInstrument): number {
  return ALL_INSTRUMENTS[instrument][0];
}

export interface CutNote {
  /** When the guide has it, session time, s. */
  readonly sessionSec: number;
  /** When and how long it is played, session time, s. */
  readonly playedSec: number;
  readonly lengthSec: number;
  readonly key: number;
}

/** What of a plan the player must know. */
interface PlayPlan {
  readonly instrument: CutInstrument;
  /** How far notes stray from their time, s, one standard deviation; a third of it slowly. */
  readonly scatterSec: number;
  /** Who plays: takes of one seed and several players are voices of one piece. The seed's own where absent. */
  readonly playerSeed?: number;
}

/** A melody with steps, leaps, repeated notes and rests, as a player plays it. */
export function inventNotes(
  { instrument, scatterSec, playerSeed }: PlayPlan,
  random: Random,
  beatSec: number,
  fromSec: number,
  toSec: number,
): CutNote[] {
  const [, low, high] = ALL_INSTRUMENTS[instrument];
  const notes: CutNote[] = [];
  let key = Math.round(0.5 * (low + high));
  let slow = 0;
  const player = playerSeed === undefined ? random : new Random(playerSeed);
  for (let at = fromSec; at < toSec - beatSec; ) {
    const chance = random.uniform();
    const beats = chance < 0.12 ? 3 : chance < 0.35 ? 2 : chance < 0.75 ? 1 : 0.5;
    const isRest = notes.length > 0 && random.uniform() < 0.12;
    slow = 0.85 * slow + 0.53 * player.gaussian();
    const stray = player.gaussian();
    const shape = random.uniform();
    if (!isRest) {
      // A leap, a step, or the same once more; back into the range where it leaves it.
      const move = random.uniform() < 0.2 ? 0 : Math.round(3 * random.gaussian()) || 2;
      key = Math.max(low, Math.min(high, key + move * (key + move < low || key + move > high ? -1 : 1)));
      // Legato, parted, or short.
      const held = shape < 0.4 ? 1.01 : shape < 0.8 ? 0.92 : 0.6;
      const playedSec = at + scatterSec * (0.33 * slow + 0.94 * stray);
      notes.push({ sessionSec: at, playedSec, lengthSec: held * beats * beatSec, key });
    }
    at += (isRest ? Math.max(1, beats) : beats) * beatSec;
  }
  return notes;
}

export interface MidiEvent {
  readonly sec: number;
  readonly bytes: readonly number[];
}

/** Notes with their loudness, swells, vibrato and a pitch that wanders. */
export function playedEvents({ instrument }: PlayPlan, notes: readonly CutNote[], random: Random): MidiEvent[] {
  const [program, , , vibratoCents, rings] = ALL_INSTRUMENTS[instrument];
  const events: MidiEvent[] = [{ sec: 0, bytes: [0xc0, program] }];
  const vibratoHz = 4.8 + 1.4 * random.uniform();
  let wander = 0;
  for (const { playedSec, lengthSec, key } of notes) {
    events.push({ sec: playedSec, bytes: [0x90, key, 60 + Math.floor(50 * random.uniform())] });
    events.push({ sec: playedSec + lengthSec, bytes: [0x80, key, 0] });
    const depth = vibratoCents * (0.4 + 0.8 * random.uniform()) * Math.min(1, lengthSec / 0.6);
    const swell = 22 * random.uniform();
    for (let sec = 0; sec < lengthSec && !rings; sec += 0.01) {
      wander = 0.995 * wander + 0.3 * random.gaussian();
      const late = Math.min(1, sec / 0.35);
      const cents = wander + depth * late * Math.sin(2 * Math.PI * vibratoHz * sec);
      const bend = Math.round(8192 * (1 + cents / 200));
      const level = Math.round(105 + swell * Math.sin((Math.PI * sec) / lengthSec));
      events.push({ sec: playedSec + sec, bytes: [0xe0, bend & 127, bend >> 7] });
      events.push({ sec: playedSec + sec, bytes: [0xb0, 11, Math.min(127, level)] });
    }
  }
  return events;
}

/** Silence, a cue, four clicks, then the melody in time with a bass below it and clicks. */
export function guideOf(
  notes: readonly CutNote[],
  cueSec: number,
  fromSec: number,
  toSec: number,
  beatSec: number,
  folder: string,
): Float32Array {
  const events: MidiEvent[] = [
    { sec: 0, bytes: [0xc0, 0] },
    { sec: 0, bytes: [0xc1, 32] },
  ];
  const clicks = [cueSec];
  for (let at = fromSec - 4 * beatSec; at < toSec; at += beatSec) clicks.push(at);
  for (const at of clicks) events.push({ sec: at, bytes: [0x99, 76, 90] }, { sec: at + 0.1, bytes: [0x89, 76, 0] });
  for (const { sessionSec, lengthSec, key } of notes) {
    const low = 36 + ((key + 5) % 12);
    events.push({ sec: sessionSec, bytes: [0x90, key, 85] }, { sec: sessionSec + lengthSec, bytes: [0x80, key, 0] });
    events.push({ sec: sessionSec, bytes: [0x91, low, 75] }, { sec: sessionSec + lengthSec, bytes: [0x81, low, 0] });
  }
  return synthesized(midiOf(events), folder).subarray(0, Math.round((toSec + 1.5) * SAMPLED_RATE_HZ));
}

export function midiOf(events: readonly MidiEvent[]): Uint8Array {
  const track: number[] = [];
  let last = 0;
  for (const { sec, bytes } of [...events].sort((a, b) => a.sec - b.sec)) {
    const tick = Math.round(sec * TICKS_PER_SEC);
    for (const one of variableLength(tick - last)) track.push(one);
    for (const one of bytes) track.push(one);
    last = tick;
  }
  track.push(...variableLength(2 * TICKS_PER_SEC), 0xff, 0x2f, 0);
  return midiFile(track, TICKS_PER_SEC);
}
