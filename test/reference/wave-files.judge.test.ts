import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { byteSourceOf } from '../../core/wave/byte-source.ts';
import { makeWaveHeader } from '../../core/wave/make-header.ts';
import { parseWaveHeader } from '../../core/wave/parse-header.ts';
import { decodeSamples, encodeSamples } from '../../core/wave/samples.ts';

/** Judge: Debian's FFmpeg reads our files and writes ours to read (rows CV-8.1 to CV-8.3). */
const folder = mkdtempSync(join(tmpdir(), 'partsong-wave-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const left = Float32Array.from({ length: 4801 }, (_, n) => 0.7 * Math.sin(n / 11));
const right = Float32Array.from({ length: 4801 }, (_, n) => 0.4 * Math.sin(n / 5));

function write(name: string, ...parts: readonly Uint8Array[]): string {
  const path = join(folder, name);
  writeFileSync(path, Buffer.concat(parts));
  return path;
}

function largestError(heard: Float32Array, sent: Float32Array): number {
  return heard.reduce((most, value, n) => Math.max(most, Math.abs(value - sent[n]!)), 0);
}

describe('WAVE files before FFmpeg', () => {
  for (const format of ['pcm16', 'pcm24', 'float32'] as const) {
    it(`CV-8.1, CV-8.3: FFmpeg hears the same samples in our ${format} file and finds its time reference`, () => {
      const plan = { format, channels: 2, rateHz: 48000, bext: { timeReferenceFrames: 172_800_000 } };
      const path = write(
        `${format}.wav`,
        makeWaveHeader({ ...plan, lengthFrames: left.length }),
        encodeSamples([left, right], format),
      );
      const raw = execFileSync('ffmpeg', ['-v', 'error', '-i', path, '-f', 'f32le', '-'], { maxBuffer: 1 << 26 });
      const heard = decodeSamples(raw, 'float32', 2);
      const step = format === 'pcm16' ? 2 ** -15 : 2 ** -23;
      expect(heard[0]!.length).toBe(left.length);
      expect(largestError(heard[0]!, left)).toBeLessThanOrEqual(step);
      expect(largestError(heard[1]!, right)).toBeLessThanOrEqual(step);
      const tags = execFileSync('ffprobe', ['-v', 'error', '-show_entries', 'format_tags', '-of', 'json', path]);
      expect(JSON.parse(tags.toString()).format.tags.time_reference).toBe('172800000');
    });
  }

  it('CV-8.1, CV-8.2: we read FFmpeg WAV of 8 to 64 bits, RF64 and an unfinished pipe', () => {
    const source = write(
      'source.wav',
      makeWaveHeader({ format: 'float32', channels: 2, rateHz: 48000, lengthFrames: left.length }),
      encodeSamples([left, right], 'float32'),
    );
    const cases: readonly [string, string[], number][] = [
      ['pcm_u8', [], 2 ** -7],
      ['pcm_s16le', [], 2 ** -15],
      ['pcm_s24le', ['-rf64', 'always'], 2 ** -23],
      ['pcm_s32le', ['-rf64', 'auto'], 2 ** -23],
      ['pcm_f32le', [], 0],
      ['pcm_f64le', [], 0],
    ];
    for (const [codec, more, tolerance] of cases) {
      const path = join(folder, `${codec}.wav`);
      execFileSync('ffmpeg', ['-v', 'error', '-y', '-i', source, '-c:a', codec, ...more, path]);
      const piped = execFileSync('ffmpeg', ['-v', 'error', '-i', source, '-c:a', codec, '-f', 'wav', '-'], {
        maxBuffer: 1 << 26,
      });
      for (const [bytes, closed] of [
        [readFileSync(path), true],
        [piped, false],
      ] as const) {
        const header = parseWaveHeader(byteSourceOf(bytes), codec);
        expect(header.lengthStated).toBe(closed);
        expect(header.lengthFrames).toBe(left.length);
        const end = header.dataOffsetBytes + header.dataBytes;
        const heard = decodeSamples(bytes.subarray(header.dataOffsetBytes, end), header.format, header.channels);
        expect(largestError(heard[1]!, right)).toBeLessThanOrEqual(tolerance);
      }
    }
  });
});
