import { barQuarters, oddLength, oddMetre } from './bar-lines.ts';
import { withOwnNames } from './own-names.ts';
import type { Metre, Note, Part, Score, SoundFamily, TempoMark } from './score.ts';

/** A Standard MIDI File after its syntax was read: what matters to a score, on absolute ticks, in the file's order. */
export interface MidiFile {
  readonly format: 0 | 1;
  readonly ticksPerQuarter: number;
  readonly tracks: readonly (readonly MidiEvent[])[];
}

export type MidiEvent = { readonly tick: number } & (
  | { readonly kind: 'noteOn'; readonly channel: number; readonly key: number; readonly velocity: number }
  | { readonly kind: 'noteOff'; readonly channel: number; readonly key: number }
  | { readonly kind: 'program'; readonly channel: number; readonly program: number }
  | { readonly kind: 'bend'; readonly channel: number }
  | { readonly kind: 'tempo'; readonly microsecondsPerQuarter: number }
  | { readonly kind: 'metre'; readonly beats: number; readonly unit: number }
  | { readonly kind: 'trackName'; readonly text: string }
);

/** Channel 10 in the numbering of musicians holds drums. Source: General MIDI. */
const DRUM_CHANNEL = 9;
/** Where a file names no tempo or metre. Source: Standard MIDI Files 1.0, 120 quarters per minute and 4/4. */
const USUAL_TEMPO: TempoMark = { atQuarters: 0, quartersPerMinute: 120, glides: false };
const UNITS = [1, 2, 4, 8, 16, 32];
const USUAL_METRE = { beats: 4, unit: 4 };

/**
 * The musical reading of a Standard MIDI File: a part for each track that has notes (for each channel, where a track has
 * several), tempo and metre maps from all tracks. A first bar that is shorter than the metre that follows it is read as a
 * pick-up. A note that is struck again before it ended ends there; notes without an end last to the end of the file.
 */
export function readMidi(file: MidiFile, title: string): Score {
  const notes: string[] = [];
  const lastTick = Math.max(0, ...file.tracks.map((track) => track.at(-1)?.tick ?? 0));
  const quarters = (tick: number): number => tick / file.ticksPerQuarter;
  const parts = file.tracks.flatMap((track, index) => partsOf(track, index, file, lastTick, notes));
  const all = file.tracks.flat().sort((a, b) => a.tick - b.tick);
  const ends = parts.flatMap((part) => part.notes.map((note) => note.atQuarters + note.lengthQuarters));
  const lengthQuarters = Math.max(quarters(lastTick), ...ends, 1);
  const bars = metresOf(all, quarters, lengthQuarters, notes);
  return {
    title,
    parts: withOwnNames(parts),
    metres: bars.metres,
    pickUpQuarters: bars.pickUpQuarters,
    tempo: tempoOf(all, quarters),
    holds: [],
    lengthQuarters,
    notes,
  };
}

function tempoOf(all: readonly MidiEvent[], quarters: (tick: number) => number): TempoMark[] {
  const marks = all.flatMap((event): TempoMark[] =>
    event.kind === 'tempo' && event.microsecondsPerQuarter > 0
      ? [{ atQuarters: quarters(event.tick), quartersPerMinute: 60e6 / event.microsecondsPerQuarter, glides: false }]
      : [],
  );
  const bounded = marks.map((mark) => ({
    ...mark,
    quartersPerMinute: Math.min(1000, Math.max(5, mark.quartersPerMinute)),
  }));
  return bounded[0]?.atQuarters === 0 ? bounded : [USUAL_TEMPO, ...bounded];
}

interface MetreAt {
  readonly atQuarters: number;
  readonly beats: number;
  readonly unit: number;
}

function metresOf(
  all: readonly MidiEvent[],
  quarters: (tick: number) => number,
  lengthQuarters: number,
  notes: string[],
): { metres: Metre[]; pickUpQuarters: number } {
  const found: MetreAt[] = [];
  for (const event of all) {
    if (event.kind !== 'metre' || event.beats < 1 || event.beats > 64) continue;
    if (!UNITS.includes(event.unit)) continue;
    const at = { atQuarters: quarters(event.tick), beats: event.beats, unit: event.unit };
    if (found.at(-1)?.atQuarters === at.atQuarters) found.pop();
    const last = found.at(-1);
    if (last === undefined || last.beats !== at.beats || last.unit !== at.unit) found.push(at);
  }
  if (found[0]?.atQuarters !== 0) found.unshift({ atQuarters: 0, ...USUAL_METRE });
  return isPickUp(found) ? withPickUp(found, lengthQuarters, notes) : barred(found, 0, lengthQuarters, notes);
}

function isPickUp(found: readonly MetreAt[]): boolean {
  const [first, second] = found;
  if (first === undefined || second === undefined) return false;
  const lasts = second.atQuarters - first.atQuarters;
  const isOneBar = Math.abs(lasts - (4 * first.beats) / first.unit) < 1e-9;
  return isOneBar && lasts < (4 * second.beats) / second.unit;
}

function withPickUp(found: readonly MetreAt[], lengthQuarters: number, notes: string[]) {
  const pickUpQuarters = found[1]!.atQuarters;
  const rest = found.slice(1).map((metre) => ({ ...metre, atQuarters: metre.atQuarters - pickUpQuarters }));
  const { metres } = barred(rest, 1, lengthQuarters - pickUpQuarters, notes);
  return { metres: [{ ...metres[0]!, atBar: 0 }, ...metres.slice(1)], pickUpQuarters };
}

/** Metres on bars; one that comes within a bar cuts that bar short. */
function barred(found: readonly MetreAt[], firstBar: number, lengthQuarters: number, notes: string[]) {
  const metres: Metre[] = [];
  let bar = firstBar;
  for (const [index, at] of found.entries()) {
    const metre: Metre = { atBar: bar, beats: at.beats, unit: at.unit, groups: null };
    metres.push(metre);
    const until = found[index + 1]?.atQuarters ?? lengthQuarters;
    const full = barQuarters(metre);
    const whole = Math.floor((until - at.atQuarters) / full + 1e-9);
    const over = until - at.atQuarters - whole * full;
    bar += whole;
    if (found[index + 1] === undefined || over < 1e-9) continue;
    if (whole === 0) metres.pop();
    metres.push({ atBar: bar, ...oddMetre(oddLength(over)) });
    notes.push(
      `The metre changes within bar ${bar + (firstBar === 0 ? 1 : 0)}, which was read as a bar of ${over} quarters.`,
    );
    bar++;
  }
  return { metres, pickUpQuarters: 0 };
}

interface OpenNote {
  readonly tick: number;
  readonly velocity: number;
}

function partsOf(
  track: readonly MidiEvent[],
  index: number,
  file: MidiFile,
  lastTick: number,
  notes: string[],
): Part[] {
  const channels = new Map<number, Note[]>();
  const programs = new Map<number, number>();
  const sounding = new Map<number, OpenNote>();
  let trackName = '';
  let bent = false;
  let dropped = 0;
  const end = (channel: number, key: number, tick: number): void => {
    const open = sounding.get(128 * channel + key);
    if (open === undefined) return;
    sounding.delete(128 * channel + key);
    if (tick <= open.tick) {
      dropped++;
      return;
    }
    const list = channels.get(channel) ?? [];
    channels.set(channel, list);
    list.push({
      atQuarters: open.tick / file.ticksPerQuarter,
      lengthQuarters: (tick - open.tick) / file.ticksPerQuarter,
      key,
      loudness: open.velocity / 127,
    });
  };
  for (const event of track) {
    switch (event.kind) {
      case 'noteOn':
        end(event.channel, event.key, event.tick);
        sounding.set(128 * event.channel + event.key, { tick: event.tick, velocity: event.velocity });
        break;
      case 'noteOff':
        end(event.channel, event.key, event.tick);
        break;
      case 'program':
        if (!programs.has(event.channel)) programs.set(event.channel, event.program);
        break;
      case 'trackName':
        if (trackName === '') trackName = event.text.trim();
        break;
      case 'bend':
        bent = true;
    }
  }
  for (const place of [...sounding.keys()]) end(place >> 7, place & 127, lastTick);
  const label = trackName === '' ? `track ${index + 1}` : trackName;
  if (bent) notes.push(`Pitch bends in ${label} were left out.`);
  if (dropped > 0) notes.push(`${dropped} notes without length in ${label} were left out.`);
  return [...channels]
    .sort(([a], [b]) => a - b)
    .map(([channel, list]) => ({
      id: `part-${index + 1}-${channel + 1}`,
      name: nameOf(trackName, channels.size > 1, channel, programs.get(channel)),
      sound: channel === DRUM_CHANNEL ? 'struck' : familyOf(programs.get(channel) ?? 0),
      notes: list.sort((a, b) => a.atQuarters - b.atQuarters || a.key - b.key),
    }));
}

function nameOf(trackName: string, several: boolean, channel: number, program: number | undefined): string {
  if (trackName !== '' && !several) return trackName.slice(0, 200);
  if (channel === DRUM_CHANNEL) return 'Drums';
  const family = program === undefined ? 'Voice' : FAMILY_NAMES[Math.floor(program / 8)]!;
  return trackName === '' ? family : `${trackName.slice(0, 180)} (${family.toLowerCase()})`;
}

/** Names of the sixteen groups of eight programs. Source: General MIDI. */
const FAMILY_NAMES = [
  'Piano',
  'Chimes',
  'Organ',
  'Guitar',
  'Bass',
  'Strings',
  'Ensemble',
  'Brass',
  'Reed',
  'Pipe',
  'Lead',
  'Pad',
  'Effect',
  'World',
  'Percussion',
  'Sound',
] as const;

/** How a program is played. Source: the instrument list of General MIDI, programs counted from 0. */
export function familyOf(program: number): SoundFamily {
  if (program < 16 || program === 47 || (program >= 112 && program <= 119)) return 'struck';
  if (program < 24) return 'blown';
  if (program < 40 || program === 45 || program === 46 || (program >= 104 && program <= 108)) return 'plucked';
  if (program < 52 || program === 110) return 'bowed';
  if (program < 55) return 'voice';
  return 'blown';
}
