import { describe, expect, it } from 'vitest';
import { WaveFile } from 'wavefile';
import { byteSourceOf } from '../../core/wave/byte-source.ts';
import { makeWaveHeader } from '../../core/wave/make-header.ts';
import { parseWaveHeader } from '../../core/wave/parse-header.ts';
import { decodeSamples, encodeSamples } from '../../core/wave/samples.ts';

/** Peer: the npm package wavefile 11. Layouts: Microsoft's WAVE specification, EBU Tech 3306, EBU Tech 3285 v2. */
const samples = Float32Array.from({ length: 480 }, (_, n) => 0.5 * Math.sin(n / 7));

function textAt(bytes: Uint8Array, at: number, length: number): string {
  return String.fromCharCode(...bytes.subarray(at, at + length));
}

describe('WAVE files against the layouts and wavefile', () => {
  it('CV-8.1: reads the 44-byte PCM header', () => {
    const header = Uint8Array.from([
      ...[0x52, 0x49, 0x46, 0x46, 0x24 + 8, 0, 0, 0, 0x57, 0x41, 0x56, 0x45, 0x66, 0x6d, 0x74, 0x20, 16, 0, 0, 0],
      ...[1, 0, 1, 0, 0x80, 0xbb, 0, 0, 0, 0x77, 1, 0, 2, 0, 16, 0, 0x64, 0x61, 0x74, 0x61, 8, 0, 0, 0],
      ...new Array(8).fill(0),
    ]);
    expect(parseWaveHeader(byteSourceOf(header), 'a.wav')).toMatchObject({
      format: 'pcm16',
      channels: 1,
      rateHz: 48000,
      dataOffsetBytes: 44,
      lengthFrames: 4,
    });
  });

  it('CV-8.1: writes EXTENSIBLE with fact for 24 bit, tag 3 with fact for float, a plain 16-byte fmt for 16 bit', () => {
    for (const [format, tag, fmtBytes] of [
      ['pcm16', 1, 16],
      ['pcm24', 0xfffe, 40],
      ['float32', 3, 18],
    ] as const) {
      const header = makeWaveHeader({ format, channels: 2, rateHz: 48000, lengthFrames: 240 });
      const view = new DataView(header.buffer);
      expect(textAt(header, 12, 4)).toBe('JUNK');
      expect(view.getUint32(16, true)).toBe(28);
      expect(textAt(header, 48, 4)).toBe('fmt ');
      expect(view.getUint32(52, true)).toBe(fmtBytes);
      expect(view.getUint16(56, true)).toBe(tag);
      if (fmtBytes === 40) {
        expect(view.getUint16(72, true)).toBe(22);
        expect(view.getUint32(76, true)).toBe(3);
        const guid = Array.from(header.subarray(80, 96), (value) => value.toString(16).padStart(2, '0')).join('');
        expect(guid).toBe('0100000000001000800000aa00389b71');
      }
      if (fmtBytes > 16) {
        expect(textAt(header, 56 + fmtBytes, 4)).toBe('fact');
        expect(view.getUint32(64 + fmtBytes, true)).toBe(240);
      }
    }
  });

  it('CV-8.1: wavefile reads what we write, and we read what wavefile writes', () => {
    for (const [format, code] of [
      ['pcm16', '16'],
      ['pcm24', '24'],
      ['float32', '32f'],
    ] as const) {
      const header = makeWaveHeader({ format, channels: 1, rateHz: 48000, lengthFrames: samples.length });
      const bytes = encodeSamples([samples], format);
      const ours = new Uint8Array(header.length + bytes.length);
      ours.set(header);
      ours.set(bytes, header.length);
      const peer = new WaveFile(ours);
      const read = peer.getSamples(false, Float64Array) as unknown as Float64Array;
      const step = format === 'pcm16' ? 2 ** -15 : 2 ** -23;
      const scale = format === 'float32' ? 1 : 1 / step;
      for (const [n, value] of samples.entries()) {
        expect(Math.abs(read[n]! / scale - value)).toBeLessThanOrEqual(step / 2);
      }

      const made = new WaveFile();
      made.fromScratch(2, 44100, '32f', [samples, samples]);
      if (code !== '32f') made.toBitDepth(code);
      const theirs = made.toBuffer();
      const parsed = parseWaveHeader(byteSourceOf(theirs), 'peer.wav');
      expect(parsed).toMatchObject({ format, channels: 2, rateHz: 44100, lengthFrames: samples.length });
      const back = decodeSamples(
        theirs.subarray(parsed.dataOffsetBytes, parsed.dataOffsetBytes + parsed.dataBytes),
        parsed.format,
        2,
      );
      // The peer scales by 2^(bits-1) - 1 and cuts instead of rounding: two steps.
      for (const [n, value] of samples.entries()) expect(Math.abs(back[1]![n]! - value)).toBeLessThan(2 * step);
    }
  });

  it('CV-8.2: RF64 has ds64 of 28 bytes with 64-bit sizes, and a data size of FFFFFFFF', () => {
    const lengthFrames = 1_000_000_000;
    const header = makeWaveHeader({ format: 'pcm24', channels: 2, rateHz: 48000, lengthFrames });
    const view = new DataView(header.buffer);
    expect(textAt(header, 0, 4)).toBe('RF64');
    expect(view.getUint32(4, true)).toBe(0xffffffff);
    expect(textAt(header, 12, 4)).toBe('ds64');
    expect(view.getUint32(16, true)).toBe(28);
    expect(view.getBigUint64(20, true)).toBe(BigInt(header.length - 8 + lengthFrames * 6));
    expect(view.getBigUint64(28, true)).toBe(BigInt(lengthFrames * 6));
    expect(view.getBigUint64(36, true)).toBe(BigInt(lengthFrames));
    expect(view.getUint32(44, true)).toBe(0);
    expect(view.getUint32(header.length - 4, true)).toBe(0xffffffff);
  });

  it('CV-8.2: reads BW64 by its ds64', () => {
    const header = makeWaveHeader({ format: 'float32', channels: 2, rateHz: 48000, lengthFrames: 600_000_000 });
    header.set([0x42, 0x57, 0x36, 0x34]);
    const parsed = parseWaveHeader(byteSourceOf(header, header.length + 4_800_000_000), 'a.wav');
    expect(parsed.lengthFrames).toBe(600_000_000);
  });

  it('CV-8.3: the time reference 172800000 (01:00:00 at 48 kHz) stands at byte 338 of bext, version 2 at 346', () => {
    const header = makeWaveHeader({
      format: 'float32',
      channels: 1,
      rateHz: 48000,
      lengthFrames: samples.length,
      bext: { timeReferenceFrames: 172_800_000, description: 'Horn 2' },
    });
    expect(textAt(header, 48, 4)).toBe('bext');
    const view = new DataView(header.buffer);
    expect(view.getUint32(52, true)).toBe(602);
    expect(view.getBigUint64(56 + 338, true)).toBe(172_800_000n);
    expect(view.getUint16(56 + 346, true)).toBe(2);
    const file = new Uint8Array(header.length + samples.length * 4);
    file.set(header);
    const peer = new WaveFile(file) as unknown as { bext: { timeReference: number[]; description: string } };
    expect(peer.bext.timeReference).toEqual([172_800_000, 0]);
    expect(peer.bext.description.replace(/\0/g, '')).toBe('Horn 2');
  });
});
