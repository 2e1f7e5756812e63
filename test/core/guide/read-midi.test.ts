import { describe, expect, it } from 'vitest';
import { barLines } from '../../../core/guide/bar-lines.ts';
import { type MidiEvent, type MidiFile, readMidi } from '../../../core/guide/read-midi.ts';

const note = (tick: number, length: number, key: number, channel = 0, velocity = 64): MidiEvent[] => [
  { tick, kind: 'noteOn', channel, key, velocity },
  { tick: tick + length, kind: 'noteOff', channel, key },
];
const inOrder = (...events: MidiEvent[]): MidiEvent[] => events.sort((a, b) => a.tick - b.tick);
const file = (tracks: MidiEvent[][], format: 0 | 1 = 1): MidiFile => ({ format, ticksPerQuarter: 480, tracks });

describe('the reading of a MIDI file', () => {
  it('makes a part of each track with notes, named as the track, 480 ticks a quarter', () => {
    const score = readMidi(
      file([
        [{ tick: 0, kind: 'tempo', microsecondsPerQuarter: 600_000 }],
        inOrder(
          { tick: 0, kind: 'trackName', text: 'Tenor viol' },
          { tick: 0, kind: 'program', channel: 1, program: 42 },
          ...note(480, 240, 55, 1, 127),
        ),
      ]),
      'Canon',
    );
    expect(score.tempo).toEqual([{ atQuarters: 0, quartersPerMinute: 100, glides: false }]);
    expect(score.parts).toEqual([
      {
        id: 'part-2-2',
        name: 'Tenor viol',
        sound: 'bowed',
        notes: [{ atQuarters: 1, lengthQuarters: 0.5, key: 55, loudness: 1 }],
      },
    ]);
  });

  it('splits a format 0 track by channel and keeps names apart', () => {
    const score = readMidi(
      file([inOrder(...note(0, 480, 60, 0), ...note(0, 480, 64, 1), ...note(0, 480, 38, 9))], 0),
      'x',
    );
    expect(score.parts.map((part) => [part.name, part.sound])).toEqual([
      ['Voice 1', 'struck'],
      ['Voice 2', 'struck'],
      ['Drums', 'struck'],
    ]);
  });

  it('reads a bar of 1/4 before 4/4 as a pick-up', () => {
    const score = readMidi(
      file([
        inOrder(
          { tick: 0, kind: 'metre', beats: 1, unit: 4 },
          { tick: 480, kind: 'metre', beats: 4, unit: 4 },
          ...note(0, 480 * 9, 60),
        ),
      ]),
      'x',
    );
    expect(score.pickUpQuarters).toBe(1);
    expect(barLines(score).map((bar) => [bar.number, bar.atQuarters])).toEqual([
      [0, 0],
      [1, 1],
      [2, 5],
    ]);
  });

  it('changes metre on bar 3 and cuts short a bar in which the metre changes, saying so', () => {
    const whole = readMidi(
      file([
        inOrder(
          { tick: 0, kind: 'metre', beats: 3, unit: 4 },
          { tick: 480 * 6, kind: 'metre', beats: 6, unit: 8 },
          ...note(0, 480 * 12, 60),
        ),
      ]),
      'x',
    );
    expect(barLines(whole).map((bar) => bar.atQuarters)).toEqual([0, 3, 6, 9]);
    const cut = readMidi(
      file([
        inOrder(
          { tick: 0, kind: 'metre', beats: 4, unit: 4 },
          { tick: 480 * 6, kind: 'metre', beats: 3, unit: 4 },
          ...note(0, 480 * 9, 60),
        ),
      ]),
      'x',
    );
    expect(barLines(cut).map((bar) => bar.atQuarters)).toEqual([0, 4, 6]);
    expect(cut.notes[0]).toMatch(/bar 2, which was read as a bar of 2 quarters/);
  });

  it('ends a note that is struck again, and one that never ends at the end of the file', () => {
    const score = readMidi(
      file([
        [
          { tick: 0, kind: 'noteOn', channel: 0, key: 60, velocity: 50 },
          { tick: 240, kind: 'noteOn', channel: 0, key: 60, velocity: 50 },
          { tick: 960, kind: 'tempo', microsecondsPerQuarter: 500_000 },
        ],
      ]),
      'x',
    );
    expect(score.parts[0]!.notes.map((one) => [one.atQuarters, one.lengthQuarters])).toEqual([
      [0, 0.5],
      [0.5, 1.5],
    ]);
  });
});
