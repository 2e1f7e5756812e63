import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { level } from '../../../app/desk/report/markup.ts';
import { LoudnessMeter } from '../../../core/loudness/loudness.ts';
import { TruePeakMeter } from '../../../core/loudness/true-peak.ts';
import type { Report } from '../../../core/session/report.ts';
import { parseSession } from '../../../core/session/schema.ts';
import { byteSourceOf } from '../../../core/wave/byte-source.ts';
import { parseWaveHeader } from '../../../core/wave/parse-header.ts';
import { decodeSamples } from '../../../core/wave/samples.ts';
import type { SessionTruth } from '../../../samples/truth.ts';
import { builtCommand, partsong } from './command.ts';

const sample = fileURLToPath(new URL('../../../samples/evening-canon/', import.meta.url));
const truth = JSON.parse(readFileSync(join(sample, 'truth.json'), 'utf8')) as SessionTruth;
const clips = truth.takes.map((take) => join(sample, take.file));
const folder = mkdtempSync(join(tmpdir(), 'partsong-mix-'));
const out = join(folder, 'canon');
let report: Report;

function wave(path: string) {
  const bytes = readFileSync(path);
  const header = parseWaveHeader(byteSourceOf(bytes), path);
  const samples = bytes.subarray(header.dataOffsetBytes, header.dataOffsetBytes + header.dataBytes);
  return { header, block: decodeSamples(samples, header.format, header.channels) };
}

beforeAll(async () => {
  await builtCommand();
  const args = [
    'mix',
    ...clips,
    '--guide',
    join(sample, truth.guide.file),
    '--lead',
    'descant',
    '--out',
    out,
    '--json',
  ];
  const end = await partsong(args);
  expect(end.stderr).not.toMatch(/defect/);
  expect(end.code).toBe(0);
  report = JSON.parse(end.stdout) as Report;
}, 120_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('partsong mix on the sample session', () => {
  it('makes the mix, a copy, the stems, the session and both reports, and nothing else', () => {
    expect(readdirSync(out).sort()).toEqual(
      ['caches', 'guides', 'mix-upload.m4a', 'mix.wav', 'report.html', 'report.json', 'session.json', 'stems'].sort(),
    );
    const names = truth.takes.map(
      (take) =>
        `${take.file
          .split('/')
          .at(-1)!
          .replace(/\.\w+$/, '')}.wav`,
    );
    expect(readdirSync(join(out, 'stems')).sort()).toEqual(names.sort());
    expect(JSON.parse(readFileSync(join(out, 'report.json'), 'utf8'))).toEqual(report);
    const session = parseSession(readFileSync(join(out, 'session.json'), 'utf8'), 'session.json');
    expect(session.voices.map((voice) => voice.role)).toEqual(['lead', 'inner', 'inner', 'bass']);
  });

  it('places every take within 15 ms of the truth at the start and the end of the music', () => {
    for (const [index, take] of truth.takes.entries()) {
      const placement = report.takes[index]!.placement!;
      for (const sessionSec of truth.guide.music) {
        const truly = (sessionSec - take.offsetSec) * (1 + take.driftPpm * 1e-6);
        const found = (sessionSec - placement.offsetSec) * (1 + placement.driftPpm * 1e-6);
        expect(Math.abs(found - truly), `${take.file} at ${sessionSec} s`).toBeLessThan(0.015);
      }
      expect(placement.question, take.file).toBeNull();
      expect(placement.confidence, take.file).toBeGreaterThan(0.8);
    }
  });

  it('learns from a stretch in which the truth has no music and no clap', () => {
    for (const [index, take] of truth.takes.entries()) {
      const { fromSec, toSec } = report.takes[index]!.silence!;
      const [musicFrom, musicTo] = take.music;
      expect(toSec <= musicFrom || fromSec >= musicTo, `${take.file}: ${fromSec} to ${toSec} s`).toBe(true);
      expect(toSec < take.clapSec || fromSec > take.clapSec, `${take.file}: clap at ${take.clapSec} s`).toBe(true);
    }
  });

  it('takes out at least 15 dB of each noise, with a musical-noise index of at most 2, and knows the hum', () => {
    for (const [index, take] of truth.takes.entries()) {
      const noise = report.takes[index]!.noise!;
      expect(noise.reducedDb, take.file).toBeGreaterThan(15);
      expect(noise.kurtosisRatio, take.file).toBeLessThan(2);
      if (take.noise.kind === 'hum') expect(Math.abs(noise.humHz! - 50)).toBeLessThan(0.2);
    }
  });

  it('meets -14 LUFS within 0.1 LU and never passes -1 dBTP, as its own meter reads the file', () => {
    const { header, block } = wave(join(out, 'mix.wav'));
    expect(header).toMatchObject({ format: 'pcm24', channels: 2, rateHz: 48000 });
    const meter = new LoudnessMeter({ rateHz: 48000, channels: 2 });
    meter.add(block);
    const read = meter.result();
    expect(Math.abs(read.integratedLufs + 14)).toBeLessThan(0.1);
    expect(read.truePeakDbtp).toBeLessThanOrEqual(-1);
    expect(report.mix.integratedLufs).toBeCloseTo(read.integratedLufs, 2);
    expect(report.mix.lengthSec).toBeCloseTo(header.lengthFrames / 48000, 6);
  });

  it('gives float stems as long as the mix, with the time reference of session time zero', () => {
    const { header: mix } = wave(join(out, 'mix.wav'));
    for (const take of report.takes) {
      const { header } = wave(join(out, take.stem!));
      expect(header, take.file).toMatchObject({ format: 'float32', channels: 1, rateHz: 48000 });
      expect(header.lengthFrames, take.file).toBe(mix.lengthFrames);
      expect(header.bext?.timeReferenceFrames, take.file).toBe(0);
    }
  });

  it('tells the true peak of each stem, as our meter reads the file, in the report, on its page and in bext', () => {
    const page = readFileSync(join(out, 'report.html'), 'utf8');
    for (const take of report.takes) {
      const { header, block } = wave(join(out, take.stem!));
      const meter = new TruePeakMeter(1);
      meter.add(block);
      const { truePeakDbtp } = meter.result();
      expect(take.stemTruePeakDbtp, take.file).toBeCloseTo(truePeakDbtp, 3);
      expect(header.bext?.loudness, take.file).toEqual({ truePeakDbtp: Math.round(truePeakDbtp * 100) / 100 });
      expect(page).toContain(`<td class="number">${level(truePeakDbtp, 'dBTP', true)}</td>`);
    }
  });

  it('keeps claps out of the mix: it is silent at the cue', () => {
    const { block } = wave(join(out, 'mix.wav'));
    const around = block[0]!.subarray(
      Math.round((truth.guide.cueSec - 0.2) * 48000),
      Math.round((truth.guide.cueSec + 0.5) * 48000),
    );
    expect(around.every((sample) => sample === 0)).toBe(true);
  });

  it('writes a report page that needs nothing from elsewhere and runs no script', () => {
    const page = readFileSync(join(out, 'report.html'), 'utf8');
    expect(page).not.toMatch(/<script|<link|src=|https?:\/\//i);
    for (const take of report.takes) expect(page).toContain(take.voice);
  });

  it('finds a second run in its caches, and reaches another target from there, in 16 bit', async () => {
    const end = await partsong([
      'mix',
      ...clips,
      '--guide',
      join(sample, truth.guide.file),
      '--out',
      out,
      '--target',
      '-18',
      '--bits',
      '16',
      '--copy',
      'none',
      '--json',
    ]);
    expect(end.code).toBe(0);
    expect(wave(join(out, 'mix.wav')).header.format).toBe('pcm16');
    const again = JSON.parse(end.stdout) as Report;
    expect(Math.abs(again.mix.integratedLufs! + 18)).toBeLessThan(0.1);
    expect(again.takes.map((take) => take.placement)).toEqual(report.takes.map((take) => take.placement));
    expect(readdirSync(out)).toContain('session.json.1');
  }, 60_000);
});
