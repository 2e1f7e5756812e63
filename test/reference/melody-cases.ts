import { Random } from '../../core/signal/random.ts';
import { attacksOf, type Melody, type MelodyNote } from './sampled-melody.ts';

/** A beginning that should be heard: anywhere between these, s. Mostly both are the same. */
export interface TrueOnset {
  readonly fromSec: number;
  readonly toSec: number;
}

export interface MelodyCase {
  readonly kind: string;
  readonly family: string;
  readonly name: string;
  readonly melody: Melody;
  readonly onsets: readonly TrueOnset[];
  /** The room's T60, the direct sound's level above its tail's energy, and the noise. */
  readonly t60Sec: number;
  readonly directDb: number;
  readonly snrDb: number;
  readonly seed: number;
}

export interface Player {
  readonly name: string;
  /** General MIDI's. */
  readonly program: number;
  readonly low: number;
  readonly high: number;
  readonly family: 'bowed' | 'blown' | 'plucked' | 'keyed' | 'voice';
}

const player = (family: Player['family'], name: string, program: number, low: number, high: number): Player => ({
  family,
  name,
  program,
  low,
  high,
});

/** On these constants are chosen. */
export const CHOSEN_ON: readonly Player[] = [
  player('bowed', 'violin', 40, 55, 88),
  player('bowed', 'cello', 42, 38, 67),
  player('blown', 'oboe', 68, 60, 84),
  player('blown', 'clarinet', 71, 52, 82),
  player('blown', 'trumpet', 56, 55, 79),
  player('blown', 'flute', 73, 61, 89),
  player('plucked', 'guitar', 24, 41, 74),
  player('plucked', 'bass guitar', 33, 30, 52),
  player('keyed', 'piano', 0, 42, 84),
  player('keyed', 'organ', 19, 48, 79),
  player('voice', 'voice', 53, 48, 76),
];

/** On these they are judged. */
export const HELD_OUT: readonly Player[] = [
  player('bowed', 'viola', 41, 49, 79),
  player('bowed', 'contrabass', 43, 33, 55),
  player('blown', 'saxophone', 65, 51, 78),
  player('blown', 'bassoon', 70, 37, 65),
  player('blown', 'trombone', 57, 43, 68),
  player('blown', 'horn', 60, 44, 73),
  player('blown', 'recorder', 74, 66, 89),
  player('plucked', 'steel guitar', 25, 41, 74),
  player('plucked', 'double bass, plucked', 32, 31, 52),
  player('keyed', 'harpsichord', 6, 45, 80),
  player('keyed', 'accordion', 21, 55, 80),
  player('voice', 'choir voice', 54, 50, 74),
];

interface Made {
  readonly melody: Melody;
  /** Beginnings without a key going down. */
  readonly slides?: readonly TrueOnset[];
}

const START_SEC = 0.6;

/** Cases of every kind for some players. seed: draws keys, lengths, rooms and noise. folder: for what is played. */
export function melodyCases(
  players: readonly Player[],
  seed: number,
  folder: string,
  rounds = 1,
  kinds: readonly string[] = KINDS.map((kind) => kind.name),
): MelodyCase[] {
  const drafts: (Omit<MelodyCase, 'onsets'> & { readonly slides: readonly TrueOnset[] })[] = [];
  for (const [index, one] of players.entries()) {
    for (const [place, kind] of KINDS.entries()) {
      if (!kind.families.includes(one.family) || !kinds.includes(kind.name)) continue;
      for (let round = 0; round < rounds; round++) {
        const own = 1000 * seed + 97 * index + 13 * place + 7919 * round;
        const random = new Random(own);
        const { melody, slides } = kind.make(one, random);
        drafts.push({
          kind: kind.name,
          family: one.family,
          name: `${kind.name}, ${one.name}`,
          melody,
          slides: slides ?? [],
          t60Sec: 0.25 + 0.45 * random.uniform(),
          directDb: 2 + 6 * random.uniform(),
          snrDb: 15 + 25 * random.uniform(),
          seed: own,
        });
      }
    }
  }
  const attacks = attacksOf(
    drafts.map((draft) => draft.melody),
    folder,
  );
  return drafts.map(({ slides, ...draft }, index) => {
    const struck = draft.melody.notes.map((note, n) => note.fromSec + attacks[index]![n]!);
    const onsets = [...struck.map((sec) => ({ fromSec: sec, toSec: sec })), ...slides];
    return { ...draft, onsets: onsets.sort((a, b) => a.fromSec - b.fromSec) };
  });
}

type Family = Player['family'];
const ALL: readonly Family[] = ['bowed', 'blown', 'plucked', 'keyed', 'voice'];
const HELD: readonly Family[] = ['bowed', 'blown', 'voice'];

const KINDS: readonly {
  readonly name: string;
  readonly families: readonly Family[];
  readonly make: (player: Player, random: Random) => Made;
}[] = [
  ...[2, 3, 4, 6, 8].map((perSec) => ({
    name: `repeats ${perSec}/s`,
    families: perSec > 4 ? (['bowed', 'blown', 'plucked', 'keyed'] as const) : ALL,
    make: (one: Player, random: Random) => repeats(one, random, perSec),
  })),
  { name: 'legato', families: ALL, make: legato },
  { name: 'trill', families: ['bowed', 'blown', 'keyed'], make: trill },
  { name: 'vibrato', families: HELD, make: vibrato },
  { name: 'swing', families: HELD, make: swing },
  { name: 'glide', families: HELD, make: glide },
  { name: 'dotted', families: ALL, make: dotted },
  { name: 'swell', families: HELD, make: swell },
  { name: 'staccato', families: ALL, make: staccato },
];

function within(random: Random, low: number, high: number): number {
  return low + (high - low) * random.uniform();
}

function keyOf(one: Player, random: Random, margin = 0): number {
  return Math.round(within(random, one.low + margin, one.high - margin));
}

function velocityOf(random: Random): number {
  return Math.round(within(random, 65, 105));
}

function plain(program: number, notes: readonly MelodyNote[]): Made {
  return { melody: { program, notes } };
}

/** Groups of one key, tongued, bowed or struck anew, with little rest or none, even as a machine's or up to 4 % uneven. */
function repeats(one: Player, random: Random, perSec: number): Made {
  const notes: MelodyNote[] = [];
  let sec = START_SEC;
  for (let group = 0; group < 3; group++) {
    const key = keyOf(one, random);
    const uneven = 0.04 * Math.max(0, 1.5 * random.uniform() - 0.5);
    const share = [0.6, 0.8, 0.97][Math.floor(3 * random.uniform())]!;
    for (let n = 0; n < Math.max(6, perSec); n++) {
      const step = (1 + uneven * random.gaussian()) / perSec;
      notes.push({ fromSec: sec, toSec: sec + share * step, key, velocity: velocityOf(random) });
      sec += step;
    }
  }
  return plain(one.program, notes);
}

function legato(one: Player, random: Random): Made {
  const notes: MelodyNote[] = [];
  let sec = START_SEC;
  for (let run = 0; run < 2; run++) {
    const step = within(random, 0.13, 0.35);
    let key = keyOf(one, random, 8);
    const way = random.uniform() < 0.5 ? 1 : -1;
    for (let n = 0; n < 8; n++) {
      notes.push({ fromSec: sec, toSec: sec + step + 0.015, key, velocity: 85 });
      sec += step;
      key += way * (random.uniform() < 0.35 ? 1 : 2);
      if (key < one.low || key > one.high) key = keyOf(one, random, 8);
    }
    sec += 0.4;
  }
  return plain(one.program, notes);
}

function trill(one: Player, random: Random): Made {
  const notes: MelodyNote[] = [];
  let sec = START_SEC;
  for (let run = 0; run < 2; run++) {
    const step = 1 / within(random, 6, 9.5);
    const key = keyOf(one, random, 2);
    const way = random.uniform() < 0.5 ? 1 : 2;
    for (let n = 0; n < 12; n++) {
      const length = n === 0 ? 0.4 : step;
      notes.push({ fromSec: sec, toSec: sec + length, key: n % 2 === 0 ? key : key + way, velocity: 85 });
      sec += length;
    }
    sec += 0.4;
  }
  return plain(one.program, notes);
}

function heldNotes(one: Player, random: Random): MelodyNote[] {
  const notes: MelodyNote[] = [];
  let sec = START_SEC;
  for (let n = 0; n < 4; n++) {
    const length = within(random, 1, 2.4);
    let key = keyOf(one, random, 1);
    if (key === notes.at(-1)?.key) key++;
    notes.push({ fromSec: sec, toSec: sec + length, key, velocity: velocityOf(random) });
    sec += length + (random.uniform() < 0.5 ? 0 : within(random, 0.1, 0.5));
  }
  return notes;
}

/** Long notes with a vibrato of 20 to 60 cents at 4 to 7 Hz, the level going with it by up to 6 dB. */
function vibrato(one: Player, random: Random): Made {
  const notes = heldNotes(one, random);
  const hz = within(random, 4, 7);
  const cents = within(random, 20, 60);
  const swingDb = within(random, 0, 3);
  const bend = (sec: number): number => cents * Math.sin(2 * Math.PI * hz * sec);
  const gainDb = (sec: number): number => swingDb * Math.sin(2 * Math.PI * hz * sec + 1);
  const made = plain(one.program, notes);
  return { ...made, melody: { ...made.melody, bend, gainDb } };
}

/** Long notes whose level alone comes and goes by 4 to 16 dB. */
function swing(one: Player, random: Random): Made {
  const made = plain(one.program, heldNotes(one, random));
  const hz = within(random, 4, 7);
  const half = within(random, 2, 8);
  return { ...made, melody: { ...made.melody, gainDb: (sec) => half * Math.sin(2 * Math.PI * hz * sec) } };
}

/** Slides within one bow or breath: the next note begins somewhere in them. */
function glide(one: Player, random: Random): Made {
  const notes: MelodyNote[] = [];
  const onsets: TrueOnset[] = [];
  const slides: { from: number; to: number; cents: number; end: number }[] = [];
  let sec = START_SEC;
  for (let n = 0; n < 3; n++) {
    const first = within(random, 0.5, 1);
    const slide = within(random, 0.06, 0.5);
    const length = first + slide + within(random, 0.5, 1);
    const cents = 100 * Math.round(within(random, 2, 7)) * (random.uniform() < 0.5 ? 1 : -1);
    notes.push({ fromSec: sec, toSec: sec + length, key: keyOf(one, random, 7), velocity: 90 });
    onsets.push({ fromSec: sec + first, toSec: sec + first + slide });
    slides.push({ from: sec + first, to: sec + first + slide, cents, end: sec + length + 0.15 });
    sec += length + 0.3;
  }
  const bend = (at: number): number => {
    const one = slides.find((slide) => at < slide.end);
    if (one === undefined || at <= one.from) return 0;
    return one.cents * Math.min(1, (at - one.from) / (one.to - one.from));
  };
  return { melody: { program: one.program, notes, bend }, slides: onsets };
}

/** Long and short in turn, double-dotted, the long ones cut by rests. */
function dotted(one: Player, random: Random): Made {
  const notes: MelodyNote[] = [];
  let sec = START_SEC;
  const beat = within(random, 0.6, 0.9);
  let key = keyOf(one, random, 5);
  for (let n = 0; n < 6; n++) {
    const held = random.uniform() < 0.5 ? 0.5 : 0.85;
    notes.push({ fromSec: sec, toSec: sec + held * beat, key, velocity: velocityOf(random) });
    if (random.uniform() < 0.6) key += Math.round(within(random, -4, 4));
    notes.push({ fromSec: sec + 0.875 * beat, toSec: sec + beat, key, velocity: velocityOf(random) });
    if (random.uniform() < 0.6) key += Math.round(within(random, -4, 4));
    key = Math.max(one.low, Math.min(one.high, key));
    sec += beat;
  }
  return plain(one.program, notes);
}

/** Long notes that swell and die by 15 to 25 dB, some of them twice. */
function swell(one: Player, random: Random): Made {
  const notes = heldNotes(one, random);
  const reach = within(random, 15, 25);
  const times = random.uniform() < 0.5 ? 1 : 2;
  const gainDb = (sec: number): number => {
    const note = notes.find((each) => sec < each.toSec + 0.05);
    if (note === undefined || sec < note.fromSec) return 0;
    const share = Math.min(1, (sec - note.fromSec) / (note.toSec - note.fromSec));
    return -reach * Math.cos(Math.PI * times * share) ** 2;
  };
  const made = plain(one.program, notes);
  return { ...made, melody: { ...made.melody, gainDb } };
}

function staccato(one: Player, random: Random): Made {
  const notes: MelodyNote[] = [];
  let sec = START_SEC;
  const step = 1 / within(random, 2.5, 5);
  let key = keyOf(one, random, 4);
  for (let n = 0; n < 14; n++) {
    notes.push({ fromSec: sec, toSec: sec + within(random, 0.07, 0.11), key, velocity: velocityOf(random) });
    if (random.uniform() < 0.6) key += Math.round(within(random, -5, 5));
    key = Math.max(one.low, Math.min(one.high, key));
    sec += step;
  }
  return plain(one.program, notes);
}
