import { parseMidi, type MidiEvent as RawEvent } from 'midi-file';
import type { MidiEvent, MidiFile } from '../../core/guide/read-midi.ts';
import { PartsongError } from '../../core/signal/fault.ts';

/** Larger files are no scores: an hour of a full orchestra is about 2 MB. */
const LARGEST_BYTES = 20_000_000;
/** Some 8 hours at 80 a minute: what claims to be longer is damaged. */
const MOST_QUARTERS = 40_000;

/**
 * Reads the syntax of a Standard MIDI File of format 0 or 1 (source: Standard MIDI Files 1.0). Chunks that are not known are
 * passed over, as the standard asks; sysex and other events without meaning for a score are left out. With SMPTE time the
 * ticks become those of 120 quarters a minute. Throws PartsongError 'score-unreadable'.
 */
export function readMidiSyntax(bytes: Uint8Array, file: string): MidiFile {
  if (bytes.length > LARGEST_BYTES) throw unreadable(file, `it is larger than ${LARGEST_BYTES / 1e6} MB`);
  const chunks = chunksOf(bytes, file);
  const header = chunks[0];
  if (header?.id !== 'MThd' || header.body.length < 6) throw unreadable(file, 'it does not begin like a MIDI file');
  const view = new DataView(header.body.buffer, header.body.byteOffset, header.body.length);
  const format = view.getUint16(0);
  const division = view.getUint16(4);
  if (format === 2) throw unreadable(file, 'it holds several pieces (format 2); export it as format 1');
  if (format > 2) throw unreadable(file, `its format ${format} is not known`);
  const isSmpte = (division & 0x8000) !== 0;
  const ticksPerQuarter = isSmpte ? ((256 - (division >> 8)) * (division & 0xff)) / 2 : division;
  if (!(ticksPerQuarter > 0)) throw unreadable(file, 'it names no length of a tick');
  const tracks = chunks.filter((chunk) => chunk.id === 'MTrk').map((chunk, index) => trackOf(chunk.body, index, file));
  if (tracks.length === 0) throw unreadable(file, 'it holds no track');
  const lastTick = Math.max(...tracks.map((track) => track.at(-1)?.tick ?? 0));
  if (lastTick / ticksPerQuarter > MOST_QUARTERS) throw unreadable(file, 'it claims to last for many hours');
  return {
    format: format === 0 ? 0 : 1,
    ticksPerQuarter,
    tracks: isSmpte ? tracks.map((track) => track.filter((event) => event.kind !== 'tempo')) : tracks,
  };
}

interface Chunk {
  readonly id: string;
  readonly body: Uint8Array;
}

function chunksOf(bytes: Uint8Array, file: string): Chunk[] {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const chunks: Chunk[] = [];
  for (let at = 0; at + 8 <= bytes.length; ) {
    const id = String.fromCharCode(...bytes.subarray(at, at + 4));
    const length = view.getUint32(at + 4);
    const to = at + 8 + length;
    if (chunks.length === 0 && id !== 'MThd') break;
    if (to > bytes.length) throw unreadable(file, 'its end is missing');
    chunks.push({ id, body: bytes.subarray(at + 8, to) });
    at = to;
  }
  return chunks;
}

/** Each track is read as a file of its own, so that the fault can name it. */
function trackOf(body: Uint8Array, index: number, file: string): MidiEvent[] {
  const alone = new Uint8Array(22 + body.length);
  alone.set([0x4d, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 0, 0, 1, 0, 96, 0x4d, 0x54, 0x72, 0x6b]);
  new DataView(alone.buffer).setUint32(18, body.length);
  alone.set(body, 22);
  let raw: readonly RawEvent[];
  try {
    raw = parseMidi(alone).tracks[0] ?? [];
  } catch (cause) {
    throw unreadable(file, `track ${index + 1} is damaged`, cause);
  }
  const events: MidiEvent[] = [];
  let tick = 0;
  for (const one of raw) {
    tick += one.deltaTime;
    const event = eventOf(one, tick);
    if (event !== undefined) events.push(event);
    if (one.type === 'endOfTrack') break;
  }
  if (!Number.isSafeInteger(tick)) throw unreadable(file, `track ${index + 1} is damaged`);
  return events;
}

function eventOf(raw: RawEvent, tick: number): MidiEvent | undefined {
  switch (raw.type) {
    case 'noteOn':
      return raw.velocity === 0
        ? { tick, kind: 'noteOff', channel: raw.channel, key: raw.noteNumber & 127 }
        : { tick, kind: 'noteOn', channel: raw.channel, key: raw.noteNumber & 127, velocity: raw.velocity & 127 };
    case 'noteOff':
      return { tick, kind: 'noteOff', channel: raw.channel, key: raw.noteNumber & 127 };
    case 'programChange':
      return { tick, kind: 'program', channel: raw.channel, program: raw.programNumber & 127 };
    case 'pitchBend':
      return { tick, kind: 'bend', channel: raw.channel };
    case 'setTempo':
      return { tick, kind: 'tempo', microsecondsPerQuarter: raw.microsecondsPerBeat };
    case 'timeSignature':
      return { tick, kind: 'metre', beats: raw.numerator, unit: raw.denominator };
    case 'trackName':
      return { tick, kind: 'trackName', text: textOf(raw.text) };
    default:
      return undefined;
  }
}

/** The bytes came as one character each; most files hold UTF-8, older ones Latin-1. */
function textOf(text: string): string {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(Uint8Array.from(text, (letter) => letter.charCodeAt(0)));
  } catch {
    return text;
  }
}

function unreadable(file: string, why: string, cause?: unknown): PartsongError {
  return new PartsongError(
    'score-unreadable',
    `The score ${file} cannot be read: ${why}.`,
    'Export it again as a Standard MIDI File or as MusicXML.',
    file,
    { cause },
  );
}
