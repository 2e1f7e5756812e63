import { barQuarters, oddLength, oddMetre } from './bar-lines.ts';
import { PartReader, type WrittenBar } from './musicxml-bars.ts';
import { withOwnNames } from './own-names.ts';
import { playOrder } from './play-order.ts';
import { familyOf } from './read-midi.ts';
import type { Hold, Metre, Note, Part, Score, SoundFamily, TempoMark } from './score.ts';
import { TempoMap } from './tempo-map.ts';
import { child, childNumber, childText, type XmlElement } from './xml-element.ts';

/** A fermata holds its note for its own length once more, at most this many quarters (common practice, no source). */
const LONGEST_HOLD_QUARTERS = 4;
/** Some 8 hours at 80 a minute, and more notes than an opera has: what claims more is damaged, or meant to do harm. */
const MOST_QUARTERS = 40_000;
const MOST_NOTES = 500_000;

/** Where a score names no tempo, quarters a minute. */
const USUAL_TEMPO = 120;

/** A bar of the piece as it is played. */
interface PlayedBar {
  readonly index: number;
  readonly atQuarters: number;
  readonly lengthQuarters: number;
}

/**
 * The musical reading of a MusicXML 4.0 document (partwise): parts with sounding pitches, chords, ties joined, grace notes
 * before the beat (a 32nd each), repeats, endings, da capo and dal segno unrolled, metres, tempo from `sound` or metronome
 * marks, dynamics, fermatas. A part stays one part however many staves it has, as one player plays it (a piano). Notes
 * without pitch (drums) are left out, their part stays. Throws RangeError for a document that is none or holds no bar.
 */
export function readMusicXml(root: XmlElement, fallbackTitle: string): Score {
  if (root.name === 'score-timewise') throw new RangeError('it is timewise MusicXML; export it partwise');
  if (root.name !== 'score-partwise') throw new RangeError('it is no MusicXML score');
  const told = new Set<string>();
  const written = root.children.filter((one) => one.name === 'part');
  const bars = written.map((part) => {
    const reader = new PartReader(told);
    return part.children.filter((one) => one.name === 'measure').map((measure) => reader.read(measure));
  });
  const count = Math.max(0, ...bars.map((part) => part.length));
  if (count === 0) throw new RangeError('it holds no bar');
  const merged = Array.from({ length: count }, (_, index) => mergedBar(bars.map((part) => part[index])));
  const played = playedBars(merged);
  const end = played.at(-1)!;
  refuseEndless(end.atQuarters + end.lengthQuarters, bars, played);
  const { metres, pickUpQuarters } = metresOf(merged, played, told);
  const tempo = tempoOf(merged, played);
  return {
    title: titleOf(root) ?? fallbackTitle,
    parts: withOwnNames(written.map((part, index) => partOf(root, part, index, notesOf(bars[index]!, played)))),
    metres,
    pickUpQuarters,
    tempo,
    holds: holdsOf(bars, played, tempo),
    lengthQuarters: end.atQuarters + end.lengthQuarters,
    notes: [...told],
  };
}

function refuseEndless(
  lengthQuarters: number,
  parts: readonly (readonly WrittenBar[])[],
  played: readonly PlayedBar[],
): void {
  if (!(lengthQuarters <= MOST_QUARTERS)) throw new RangeError('it claims to last for many hours');
  let notes = 0;
  for (const { index } of played) for (const part of parts) notes += part[index]?.notes.length ?? 0;
  if (notes > MOST_NOTES) throw new RangeError(`it holds ${notes} notes when its repeats are played`);
}

function titleOf(root: XmlElement): string | undefined {
  const work = child(root, 'work');
  const title = (work === undefined ? '' : childText(work, 'work-title')) || childText(root, 'movement-title');
  return title === undefined || title === '' ? undefined : title.slice(0, 200);
}

/** What all parts together say of a bar: its length, and every sign that any of them shows. */
function mergedBar(parts: readonly (WrittenBar | undefined)[]): WrittenBar {
  const own = parts.filter((bar) => bar !== undefined);
  const first = own[0]!;
  const signs = own.map((bar) => bar.signs);
  return {
    notes: [],
    filledQuarters: Math.max(...own.map((bar) => bar.filledQuarters)),
    metre: first.metre,
    implicit: own.some((bar) => bar.implicit),
    tempo: own.flatMap((bar) => bar.tempo),
    signs: {
      forward: signs.some((one) => one.forward),
      backward: signs.find((one) => one.backward !== null)?.backward ?? null,
      ending: signs.find((one) => one.ending !== null)?.ending ?? null,
      segno: signs.some((one) => one.segno),
      coda: signs.some((one) => one.coda),
      toCoda: signs.some((one) => one.toCoda),
      fine: signs.some((one) => one.fine),
      jump: signs.find((one) => one.jump !== null)?.jump ?? null,
    },
  };
}

function playedBars(bars: readonly WrittenBar[]): PlayedBar[] {
  let at = 0;
  return playOrder(bars.map((bar) => bar.signs)).map((index) => {
    const lengthQuarters = lengthOf(bars[index]!, index);
    const bar = { index, atQuarters: at, lengthQuarters };
    at += lengthQuarters;
    return bar;
  });
}

/**
 * Bars are as long as their metre, but for pick-ups, bars that are marked as incomplete, those cut short by a repeat that
 * began with a pick-up, and overfull ones. Such bars end on a 32nd, very long ones on a longer note.
 */
function lengthOf(bar: WrittenBar, index: number): number {
  const full = barQuarters({ ...bar.metre, atBar: 0 });
  if (bar.filledQuarters > full + 1e-6) return oddLength(bar.filledQuarters);
  const isShort = bar.filledQuarters > 0 && bar.filledQuarters < full - 1e-6;
  if (isShort && index === 0) return bar.filledQuarters;
  return isShort && (bar.implicit || bar.signs.backward !== null) ? oddLength(bar.filledQuarters) : full;
}

function metresOf(bars: readonly WrittenBar[], played: readonly PlayedBar[], told: Set<string>) {
  const first = played[0]!;
  const firstFull = barQuarters({ ...bars[first.index]!.metre, atBar: 0 });
  const pickUpQuarters = first.lengthQuarters < firstFull - 1e-6 ? first.lengthQuarters : 0;
  const metres: Metre[] = [];
  for (const [atBar, { index, lengthQuarters }] of played.entries()) {
    const wanted = bars[index]!.metre;
    const isWhole =
      Math.abs(lengthQuarters - barQuarters({ ...wanted, atBar: 0 })) < 1e-6 || (atBar === 0 && pickUpQuarters > 0);
    if (!isWhole) told.add('Some bars are shorter or longer than their metre and were counted as one beat.');
    const metre: Metre = isWhole ? { atBar, ...wanted } : { atBar, ...oddMetre(oddLength(lengthQuarters)) };
    const last = metres.at(-1);
    const isSame =
      last !== undefined &&
      last.beats === metre.beats &&
      last.unit === metre.unit &&
      last.groups?.join() === metre.groups?.join();
    if (!isSame) metres.push(metre);
  }
  return { metres, pickUpQuarters };
}

function tempoOf(bars: readonly WrittenBar[], played: readonly PlayedBar[]): TempoMark[] {
  const before = tempoBefore(bars);
  const marks = played.flatMap(({ index, atQuarters }, n) => {
    const own = bars[index]!.tempo.map((mark) => ({
      atQuarters: atQuarters + mark.atQuarters,
      quartersPerMinute: mark.quartersPerMinute,
      glides: false,
    }));
    // Who goes back takes the tempo up again that was there the first time.
    const isBack = n > 0 && index <= played[n - 1]!.index;
    return isBack ? [{ atQuarters, quartersPerMinute: before[index]!, glides: false }, ...own] : own;
  });
  marks.sort((a, b) => a.atQuarters - b.atQuarters);
  return marks[0]?.atQuarters === 0
    ? marks
    : [{ atQuarters: 0, quartersPerMinute: USUAL_TEMPO, glides: false }, ...marks];
}

/** The tempo with which each written bar begins when all are played as written. */
function tempoBefore(bars: readonly WrittenBar[]): number[] {
  let now = USUAL_TEMPO;
  return bars.map((bar) => {
    const begins = now;
    now = bar.tempo.at(-1)?.quartersPerMinute ?? now;
    return begins;
  });
}

function holdsOf(
  parts: readonly (readonly WrittenBar[])[],
  played: readonly PlayedBar[],
  tempo: readonly TempoMark[],
): Hold[] {
  const map = new TempoMap(tempo);
  const longest = new Map<number, number>();
  for (const { index, atQuarters } of played) {
    for (const part of parts) {
      for (const note of part[index]?.notes ?? []) {
        if (!note.fermata) continue;
        const end = atQuarters + note.atQuarters + note.lengthQuarters;
        const held = Math.min(LONGEST_HOLD_QUARTERS, note.lengthQuarters);
        longest.set(end, Math.max(longest.get(end) ?? 0, held));
      }
    }
  }
  return [...longest]
    .sort(([a], [b]) => a - b)
    .map(([atQuarters, held]) => ({
      atQuarters,
      sec: (60 * held) / map.tempoAt(atQuarters - 1e-6),
    }));
}

/** The notes of a part as they are played: ties joined, nothing before the beginning. */
function notesOf(bars: readonly WrittenBar[], played: readonly PlayedBar[]): Note[] {
  const notes: Note[] = [];
  const tied = new Map<number, number>();
  for (const { index, atQuarters: barAt } of played) {
    for (const written of bars[index]?.notes ?? []) {
      const atQuarters = Math.max(0, barAt + written.atQuarters);
      const end = barAt + written.atQuarters + written.lengthQuarters;
      const open = written.tiedFrom ? tied.get(written.key) : undefined;
      const before = open === undefined ? undefined : notes[open]!;
      if (before !== undefined && Math.abs(before.atQuarters + before.lengthQuarters - atQuarters) < 1e-6) {
        notes[open!] = { ...before, lengthQuarters: end - before.atQuarters };
        if (!written.tiedTo) tied.delete(written.key);
        continue;
      }
      if (end <= atQuarters) continue;
      const { key, loudness } = written;
      const lengthQuarters = barAt + written.atQuarters < 0 ? end : written.lengthQuarters;
      notes.push({ atQuarters, lengthQuarters, key, loudness });
      if (written.tiedTo) tied.set(key, notes.length - 1);
    }
  }
  return notes.sort((a, b) => a.atQuarters - b.atQuarters || a.key - b.key);
}

function partOf(root: XmlElement, part: XmlElement, index: number, notes: readonly Note[]): Part {
  const list = child(root, 'part-list');
  const facts = list?.children.find(
    (one) => one.name === 'score-part' && one.attributes['id'] === part.attributes['id'],
  );
  const name = facts === undefined ? undefined : childText(facts, 'part-name');
  return {
    id: `part-${index + 1}`,
    name: name === undefined || name === '' ? `Part ${index + 1}` : name.slice(0, 200),
    sound: soundOf(facts, name ?? ''),
    notes,
  };
}

function soundOf(facts: XmlElement | undefined, name: string): SoundFamily {
  const instrument = facts === undefined ? undefined : child(facts, 'score-instrument');
  const sound = instrument === undefined ? undefined : childText(instrument, 'instrument-sound');
  const told = /^(strings|pluck|voice|wind|brass|keyboard|pitched-percussion|drum|metal|wood)/.exec(sound ?? '')?.[1];
  if (told !== undefined) return SOUND_IDS[told] ?? 'struck';
  const midi = facts === undefined ? undefined : child(facts, 'midi-instrument');
  const program = midi === undefined ? undefined : childNumber(midi, 'midi-program');
  if (program !== undefined && program >= 1 && program <= 128) return familyOf(program - 1);
  if (/viol|cello|bass|string/i.test(name)) return 'bowed';
  if (/guitar|lute|harp/i.test(name)) return 'plucked';
  if (/sopran|alto|tenor|bariton|voice|chor/i.test(name) && !/recorder|sax|flute|trombon|horn/i.test(name))
    return 'voice';
  return /piano|organ|cembalo/i.test(name) ? 'struck' : 'blown';
}

/** First words of the identifiers in MusicXML's list of sounds. */
const SOUND_IDS: Readonly<Record<string, SoundFamily>> = {
  strings: 'bowed',
  pluck: 'plucked',
  voice: 'voice',
  wind: 'blown',
  brass: 'blown',
};
