import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { PartsongError } from '../../../core/signal/fault.ts';
import { byteSourceOf } from '../../../core/wave/byte-source.ts';
import { makeWaveHeader, wavePaddingBytes } from '../../../core/wave/make-header.ts';
import { parseWaveHeader } from '../../../core/wave/parse-header.ts';

function joined(...parts: readonly (Uint8Array | readonly number[])[]): Uint8Array {
  return Uint8Array.from(parts.flatMap((part) => Array.from(part)));
}

function ascii(text: string): number[] {
  return Array.from(text, (letter) => letter.charCodeAt(0));
}

function uint32(value: number): number[] {
  return [value & 255, (value >>> 8) & 255, (value >>> 16) & 255, value >>> 24];
}

function chunk(id: string, body: Uint8Array | readonly number[]): Uint8Array {
  return joined(ascii(id), uint32(body.length), body, body.length % 2 === 1 ? [0] : []);
}

function fmt(tag: number, channels: number, rateHz: number, bits: number, tail: readonly number[] = []): Uint8Array {
  const frame = (channels * bits) / 8;
  return chunk('fmt ', [
    ...uint32(tag + channels * 65536),
    ...uint32(rateHz),
    ...uint32(rateHz * frame),
    ...uint32(frame + bits * 65536),
    ...tail,
  ]);
}

function riff(...chunks: readonly Uint8Array[]): Uint8Array {
  const body = joined(ascii('WAVE'), ...chunks);
  return joined(ascii('RIFF'), uint32(body.length), body);
}

function codeOf(bytes: Uint8Array): string {
  try {
    parseWaveHeader(byteSourceOf(bytes), 'my take.wav');
  } catch (fault) {
    if (fault instanceof PartsongError) {
      expect(fault.message).toContain('my take.wav');
      return fault.code;
    }
    throw fault;
  }
  return 'read';
}

describe('parseWaveHeader', () => {
  const data = chunk('data', new Uint8Array(24));

  it('reads fmt chunks of 16, 18 and 40 bytes', () => {
    const guid = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71];
    const extended = [22, 0, 24, 0, 3, 0, 0, 0, 1, 0, ...guid];
    const cases = [
      { head: fmt(1, 1, 44100, 16), format: 'pcm16', frames: 12 },
      { head: fmt(3, 2, 48000, 32, [0, 0]), format: 'float32', frames: 3 },
      { head: fmt(0xfffe, 2, 96000, 24, extended), format: 'pcm24', frames: 4 },
      { head: fmt(1, 1, 8000, 8), format: 'u8', frames: 24 },
      { head: fmt(1, 3, 48000, 32), format: 'pcm32', frames: 2 },
      { head: fmt(3, 1, 192000, 64), format: 'float64', frames: 3 },
    ];
    for (const { head, format, frames } of cases) {
      const header = parseWaveHeader(byteSourceOf(riff(head, data)), 'a.wav');
      expect(header.format).toBe(format);
      expect(header.lengthFrames).toBe(frames);
      expect(header.dataOffsetBytes).toBe(12 + head.length + 8);
      expect(header.lengthStated).toBe(true);
    }
  });

  it('skips unknown chunks before and after the samples, odd ones with their padding byte', () => {
    const file = riff(
      chunk('LIST', new Uint8Array(7)),
      fmt(1, 1, 48000, 16),
      chunk('xtra', [1]),
      data,
      chunk('id3 ', [9]),
    );
    const header = parseWaveHeader(byteSourceOf(file), 'a.wav');
    expect(header.dataBytes).toBe(24);
    expect(header.rateHz).toBe(48000);
  });

  it('takes the length from the file when the header says 0, FFFFFFFF or too much', () => {
    for (const stated of [0, 0xffffffff, 1000]) {
      const file = joined(ascii('RIFF'), uint32(0), ascii('WAVE'), fmt(1, 1, 48000, 16), ascii('data'), uint32(stated));
      const header = parseWaveHeader(byteSourceOf(joined(file, new Uint8Array(101))), 'a.wav');
      expect(header.lengthStated).toBe(false);
      expect(header.lengthFrames).toBe(50);
    }
  });

  it('tells damaged files apart: empty, text, cut in its header, without samples, of an unknown coding', () => {
    expect(codeOf(new Uint8Array(0))).toBe('file-empty');
    expect(codeOf(Uint8Array.from(ascii('this is only a letter to you')))).toBe('not-media');
    expect(codeOf(riff(fmt(1, 1, 48000, 16)).subarray(0, 30))).toBe('truncated');
    expect(codeOf(riff(fmt(1, 1, 48000, 16)))).toBe('truncated');
    expect(codeOf(riff(data))).toBe('truncated');
    expect(codeOf(riff(fmt(1, 1, 48000, 16), chunk('data', [])))).toBe('no-sound');
    expect(codeOf(riff(fmt(0x55, 1, 48000, 16), data))).toBe('not-media');
    expect(codeOf(riff(fmt(1, 0, 48000, 16), data))).toBe('not-media');
    expect(codeOf(riff(fmt(1, 1, 0, 16), data))).toBe('not-media');
  });

  it('never fails otherwise on any cut of a good file', () => {
    const good = joined(
      makeWaveHeader({
        format: 'pcm24',
        channels: 2,
        rateHz: 48000,
        lengthFrames: 4,
        bext: { timeReferenceFrames: 5 },
      }),
      new Uint8Array(24),
    );
    for (let length = 0; length <= good.length; length++) {
      expect(['file-empty', 'not-media', 'truncated', 'no-sound', 'read']).toContain(codeOf(good.slice(0, length)));
    }
  });
});

describe('makeWaveHeader', () => {
  it('gives what is known of the loudness, and marks the rest as not used', () => {
    const plan = { format: 'float32', channels: 1, rateHz: 48000, lengthFrames: 10 } as const;
    for (const loudness of [{ truePeakDbtp: -3.21 }, { rangeLu: 4, integratedLufs: -20 }]) {
      const header = makeWaveHeader({ ...plan, bext: { timeReferenceFrames: 0, loudness } });
      expect(parseWaveHeader(byteSourceOf(header, header.length + 40), 'a.wav').bext?.loudness).toEqual(loudness);
    }
    const silent = { timeReferenceFrames: 0, loudness: { truePeakDbtp: Number.NEGATIVE_INFINITY } };
    const header = makeWaveHeader({ ...plan, bext: silent });
    expect(parseWaveHeader(byteSourceOf(header, header.length + 40), 'a.wav').bext).not.toHaveProperty('loudness');
  });

  it('gives headers that are read back with every field', () => {
    for (const format of ['pcm16', 'pcm24', 'float32'] as const) {
      for (const channels of [1, 2]) {
        const bext = {
          timeReferenceFrames: 172_800_000,
          description: 'Sopran, zweite Strophe',
          originator: 'Partsong',
          date: '2024-05-01',
          time: '10:20:30',
          loudness: {
            integratedLufs: -14.02,
            rangeLu: 6.5,
            truePeakDbtp: -1,
            momentaryMaxLufs: -9.9,
            shortTermMaxLufs: -11,
          },
        };
        const header = makeWaveHeader({ format, channels, rateHz: 48000, lengthFrames: 1001, bext });
        const parsed = parseWaveHeader(byteSourceOf(header, header.length + 1e6), 'a.wav');
        expect(parsed).toMatchObject({ format, channels, rateHz: 48000, lengthFrames: 1001, bext, lengthStated: true });
        expect(parsed.dataOffsetBytes).toBe(header.length);
      }
    }
  });

  it('keeps its byte count whatever the length, so that it can be overwritten in place', () => {
    const lengthOf = (lengthFrames: number | undefined): number =>
      makeWaveHeader({ format: 'pcm24', channels: 2, rateHz: 48000, lengthFrames }).length;
    expect(lengthOf(undefined)).toBe(lengthOf(0));
    expect(lengthOf(undefined)).toBe(lengthOf(1_000_000_000));
  });

  it('reads as an unfinished recording while the length is not known', () => {
    const header = makeWaveHeader({ format: 'float32', channels: 1, rateHz: 48000, lengthFrames: undefined });
    const parsed = parseWaveHeader(byteSourceOf(header, header.length + 4000), 'a.wav');
    expect(parsed.lengthStated).toBe(false);
    expect(parsed.lengthFrames).toBe(1000);
  });

  it('turns to RF64 exactly where the RIFF size no longer fits 32 bits', () => {
    const plan = { format: 'pcm24', channels: 2, rateHz: 48000 } as const;
    const headBytes = makeWaveHeader({ ...plan, lengthFrames: 0 }).length;
    const most = Math.floor((0xffffffff - 1 - (headBytes - 8)) / 6);
    for (const [lengthFrames, kind] of [
      [most, 'RIFF'],
      [most + 1, 'RF64'],
      [2_000_000_000, 'RF64'],
    ] as const) {
      const header = makeWaveHeader({ ...plan, lengthFrames });
      expect(String.fromCharCode(...header.subarray(0, 4))).toBe(kind);
      const parsed = parseWaveHeader(byteSourceOf(header, header.length + lengthFrames * 6), 'a.wav');
      expect(parsed.lengthFrames).toBe(lengthFrames);
      expect(parsed.lengthStated).toBe(true);
    }
  });

  it('asks for one padding byte after an odd number of sample bytes', () => {
    expect(wavePaddingBytes({ format: 'pcm24', channels: 1, rateHz: 48000, lengthFrames: 3 })).toBe(1);
    expect(wavePaddingBytes({ format: 'pcm24', channels: 2, rateHz: 48000, lengthFrames: 3 })).toBe(0);
  });

  it('refuses three channels', () => {
    expect(() => makeWaveHeader({ format: 'pcm16', channels: 3, rateHz: 48000, lengthFrames: 1 })).toThrow(RangeError);
  });
});

describe('parseWaveHeader on any bytes', () => {
  it('gives a header or a PartsongError, for 2000 damaged files', () => {
    const good = joined(
      makeWaveHeader({
        format: 'float32',
        channels: 2,
        rateHz: 48000,
        lengthFrames: 6e8,
        bext: { timeReferenceFrames: 5 },
      }),
      new Uint8Array(100),
    );
    const damage = fc.array(fc.tuple(fc.nat(good.length - 1), fc.nat(255)), { minLength: 1, maxLength: 12 });
    fc.assert(
      fc.property(damage, fc.nat(good.length), (changes, length) => {
        const bytes = good.slice(0, length);
        for (const [at, value] of changes) if (at < length) bytes[at] = value;
        try {
          const header = parseWaveHeader(byteSourceOf(bytes, length), 'my take.wav');
          expect(header.dataOffsetBytes + header.dataBytes).toBeLessThanOrEqual(length);
        } catch (fault) {
          if (!(fault instanceof PartsongError)) throw fault;
        }
      }),
      { numRuns: 2000, seed: 8 },
    );
  });
});
