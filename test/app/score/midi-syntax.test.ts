import fc from 'fast-check';
import { type MidiEvent as RawEvent, writeMidi } from 'midi-file';
import { describe, expect, it } from 'vitest';
import { readMidiSyntax } from '../../../app/score/midi-syntax.ts';
import { barLines } from '../../../core/guide/bar-lines.ts';
import { readMidi } from '../../../core/guide/read-midi.ts';
import { PartsongError } from '../../../core/signal/fault.ts';

const bytes = (hex: string): Uint8Array =>
  Uint8Array.from(hex.trim().split(/\s+/), (pair) => Number.parseInt(pair, 16));

/** CV-8.4, the example of Standard MIDI Files 1.0: format 0, 96 ticks, running status, three channels. */
const EXAMPLE = bytes(
  `4D 54 68 64 00 00 00 06 00 00 00 01 00 60 4D 54 72 6B 00 00 00 3B 00 FF 58 04 04 02 18 08 00 FF 51 03 07 A1 20
   00 C0 05 00 C1 2E 00 C2 46 00 92 30 60 00 3C 60 60 91 43 40 60 90 4C 20 81 40 82 30 40 00 3C 40 00 81 43 40 00
   80 4C 40 00 FF 2F 00`,
);

function withDelta(delta: string): Uint8Array {
  const body = bytes(`${delta} 90 3C 40 60 80 3C 40 00 FF 2F 00`);
  const head = bytes('4D 54 68 64 00 00 00 06 00 00 00 01 7F FF 4D 54 72 6B 00 00 00 00');
  head[21] = body.length;
  return Uint8Array.from([...head, ...body]);
}

describe('the syntax of MIDI files', () => {
  it("reads the standard's own example: three notes, 4/4 at 120 (CV-8.4)", () => {
    const score = readMidi(readMidiSyntax(EXAMPLE, 'example.mid'), 'Example');
    expect(score.tempo).toEqual([{ atQuarters: 0, quartersPerMinute: 120, glides: false }]);
    expect(
      score.parts.map((part) => part.notes.map((note) => [note.key, note.atQuarters, note.lengthQuarters])),
    ).toEqual([
      [[76, 2, 2]],
      [[67, 1, 3]],
      [
        [48, 0, 4],
        [60, 0, 4],
      ],
    ]);
  });

  it.each([
    ['00', 0],
    ['40', 0x40],
    ['7F', 0x7f],
    ['81 00', 0x80],
    ['C0 00', 0x2000],
    ['FF 7F', 0x3fff],
    ['81 80 00', 0x4000],
    ['C0 80 00', 0x100000],
    ['FF FF 7F', 0x1fffff],
    ['81 80 80 00', 0x200000],
    ['C0 80 80 00', 0x8000000],
    ['FF FF FF 7F', 0xfffffff],
  ])('reads the length %s as %i ticks (CV-8.4)', (delta, ticks) => {
    expect(readMidiSyntax(withDelta(delta), 'x.mid').tracks[0]![0]!.tick).toBe(ticks);
  });

  it('reads back what an outside writer wrote, with running status and without', () => {
    const notes = Array.from({ length: 40 }, (_, n) => ({
      key: 50 + ((n * 7) % 24),
      at: 120 * n,
      length: 60 + 10 * (n % 5),
    }));
    const events: RawEvent[] = [{ deltaTime: 0, meta: true, type: 'trackName', text: 'Bass viol' }];
    let now = 0;
    for (const note of notes) {
      events.push({ deltaTime: note.at - now, type: 'noteOn', channel: 2, noteNumber: note.key, velocity: 80 });
      events.push({ deltaTime: note.length, type: 'noteOff', channel: 2, noteNumber: note.key, velocity: 0 });
      now = note.at + note.length;
    }
    events.push({ deltaTime: 0, meta: true, type: 'endOfTrack' });
    for (const running of [true, false]) {
      const written = Uint8Array.from(
        writeMidi({ header: { format: 1, numTracks: 1, ticksPerBeat: 240 }, tracks: [events] }, { running }),
      );
      const [part] = readMidi(readMidiSyntax(written, 'x.mid'), 'x').parts;
      expect(part!.name).toBe('Bass viol');
      expect(
        part!.notes.map((note) => ({ key: note.key, at: note.atQuarters * 240, length: note.lengthQuarters * 240 })),
      ).toEqual(notes);
    }
  });

  it('skips sysex and chunks it does not know', () => {
    const alien = bytes('58 58 58 58 00 00 00 02 01 02');
    const body = bytes('00 F0 03 43 12 F7 00 90 3C 40 60 80 3C 40 00 FF 2F 00');
    const track = Uint8Array.from([...bytes('4D 54 72 6B 00 00 00'), body.length, ...body]);
    const whole = Uint8Array.from([...EXAMPLE.subarray(0, 14), ...alien, ...track]);
    expect(readMidiSyntax(whole, 'x.mid').tracks[0]).toHaveLength(2);
  });

  it('tells what is wrong with a damaged file, a text, an empty one and format 2', () => {
    const why = (data: Uint8Array): string => {
      try {
        readMidiSyntax(data, 'x.mid');
      } catch (error) {
        return (error as PartsongError).message;
      }
      return '';
    };
    expect(why(EXAMPLE.subarray(0, 60))).toMatch(/x\.mid cannot be read: its end is missing/);
    expect(why(new TextEncoder().encode('Dear diary, '))).toMatch(/does not begin like a MIDI file/);
    expect(why(new Uint8Array(0))).toMatch(/does not begin like a MIDI file/);
    expect(why(EXAMPLE.with(9, 2))).toMatch(/several pieces/);
  });

  it('refuses a file that claims to last for many hours', () => {
    const long = withDelta('FF FF FF 7F');
    long[12] = 0;
    long[13] = 96;
    expect(() => readMidiSyntax(long, 'x.mid')).toThrow(/many hours/);
  });

  it('neither crashes nor takes 2 s for 10 000 random and mutilated files', { timeout: 120_000 }, () => {
    const mutilated = fc
      .tuple(fc.array(fc.tuple(fc.nat(EXAMPLE.length - 1), fc.nat(255)), { maxLength: 12 }), fc.nat(EXAMPLE.length))
      .map(([changes, end]) => {
        const copy = EXAMPLE.slice(0, end % 3 === 0 ? end : EXAMPLE.length);
        for (const [at, value] of changes) if (at < copy.length) copy[at] = value;
        return copy;
      });
    let slowest = 0;
    fc.assert(
      fc.property(
        fc.oneof({ weight: 4, arbitrary: mutilated }, { weight: 1, arbitrary: fc.uint8Array({ maxLength: 300 }) }),
        (data) => {
          const begun = performance.now();
          try {
            barLines(readMidi(readMidiSyntax(data, 'x.mid'), 'x'));
          } catch (error) {
            if (!(error instanceof PartsongError)) throw error;
          }
          slowest = Math.max(slowest, performance.now() - begun);
        },
      ),
      { seed: 5, numRuns: 10_000 },
    );
    expect(slowest).toBeLessThan(2000);
  });
});
