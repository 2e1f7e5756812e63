import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { writeMidi } from 'midi-file';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { CheckReport } from '../../../app/desk/check-clips.ts';
import { guidePlanBeside } from '../../../app/desk/guide-file.ts';
import type { MadeGuide } from '../../../app/desk/make-guide.ts';
import type { SessionTruth } from '../../../samples/truth.ts';
import { builtCommand, partsong } from './command.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-guide-'));
const score = join(folder, 'round.mid');

beforeAll(async () => {
  await builtCommand();
  const track = (name: string, key: number) => [
    { deltaTime: 0, meta: true as const, type: 'trackName' as const, text: name },
    { deltaTime: 0, type: 'noteOn' as const, channel: 0, noteNumber: key, velocity: 90 },
    { deltaTime: 960, type: 'noteOff' as const, channel: 0, noteNumber: key, velocity: 0 },
    { deltaTime: 0, meta: true as const, type: 'endOfTrack' as const },
  ];
  const tracks = [track('Tenor viol', 57), track('Bass viol', 45)];
  writeFileSync(score, Uint8Array.from(writeMidi({ header: { format: 1, numTracks: 2, ticksPerBeat: 240 }, tracks })));
}, 60_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('partsong guide', () => {
  it('makes a guide for all and one a voice, each with its plan beside, and the page to print', async () => {
    const out = join(folder, 'all');
    const end = await partsong([
      'guide',
      score,
      '--out',
      out,
      '--for',
      'all',
      '--format',
      'wav',
      '--silence',
      '3',
      '--json',
    ]);
    expect(end.code).toBe(0);
    const made = JSON.parse(end.stdout) as {
      silence: { fromSec: number; toSec: number };
      voices: string[];
      bars: number;
    };
    expect(made.voices).toEqual(['Tenor viol', 'Bass viol']);
    expect(made.silence.toSec - made.silence.fromSec).toBeCloseTo(3, 9);
    expect(readdirSync(out).sort()).toEqual([
      'recording-plan.html',
      'round-guide-Bass viol.guide.json',
      'round-guide-Bass viol.wav',
      'round-guide-Tenor viol.guide.json',
      'round-guide-Tenor viol.wav',
      'round-guide.guide.json',
      'round-guide.wav',
    ]);
    const plan = await guidePlanBeside(join(out, 'round-guide.wav'));
    expect(plan!.silence.fromFrame / 48000).toBeCloseTo(made.silence.fromSec, 9);
    const page = readFileSync(join(out, 'recording-plan.html'), 'utf8');
    expect(page).toMatch(/Bass viol[\s\S]*Tenor viol/);
    expect(page).toMatch(/H\.870/);
  });

  it('makes a video with a ritardando and a fermata', async () => {
    const out = join(folder, 'video');
    const guide = ['guide', '--out', out, '--tempo', '120', '--bars', '4', '--format', 'mp4', '--tuning', '0'];
    const made = await partsong([...guide, '--ritardando', '4:60', '--hold', '2:1.5', '--json']);
    expect(made.stderr).not.toMatch(/cannot/);
    const { musicFromSec, musicToSec, files } = JSON.parse(made.stdout) as MadeGuide;
    expect(files.map((one) => one.file)).toEqual(['guide.mp4']);
    // Bar 4 from 120 to 60: 60 / slope times the logarithm of the ratio.
    const last = ((60 * 4) / (60 - 120)) * Math.log(60 / 120);
    expect(musicToSec - musicFromSec).toBeCloseTo(6 + 1.5 + last, 4);
    expect(readdirSync(out).sort()).toEqual(['guide.guide.json', 'guide.mp4', 'recording-plan.html']);
    expect((await guidePlanBeside(join(out, 'guide.mp4')))!.bars).toHaveLength(4);
  }, 30_000);

  it('refuses a broken score, a metre of 4/3 and a voice that is not there, and leaves nothing behind', async () => {
    const out = join(folder, 'none');
    const broken = join(folder, 'broken.mid');
    writeFileSync(broken, readFileSync(score).subarray(0, 40));
    const first = await partsong(['guide', broken, '--out', out]);
    expect(first.code).toBe(45);
    expect(first.stderr).toMatch(/broken\.mid cannot be read: its end is missing/);
    expect((await partsong(['guide', '--out', out, '--metre', '4/3'])).code).toBe(2);
    const voice = await partsong(['guide', score, '--out', out, '--for', 'horn']);
    expect(voice.stderr).toMatch(/Name one of these: Tenor viol, Bass viol/);
    const own = await partsong(['guide', score, '--out', out, '--with', 'horn=x.wav']);
    expect(own.stderr).toMatch(/Name one of these: Tenor viol, Bass viol/);
    const gone = await partsong(['guide', score, '--out', out, '--with', 'bass=x.wav']);
    expect(gone.stderr).toMatch(/x\.wav is not there/);
    expect((await partsong(['guide', '--out', out, '--with', 'bass'])).code).toBe(2);
    expect((await partsong(['guide', '--out', out, '--hold', '1:0'])).code).toBe(2);
    const session = await partsong(['guide', '--session', folder, '--out', out]);
    expect(session.stderr).toMatch(/There is no session at/);
    expect(existsSync(out)).toBe(false);
  });
});

describe('partsong check', () => {
  it('finds the sample session fit to be used but for what was put into it, and names the take that is too loud', async () => {
    const sample = fileURLToPath(new URL('../../../samples/evening-canon/', import.meta.url));
    const truth = JSON.parse(readFileSync(join(sample, 'truth.json'), 'utf8')) as SessionTruth;
    const end = await partsong(['check', ...truth.takes.map((take) => join(sample, take.file)), '--json']);
    expect(end.code).toBe(0);
    const report = JSON.parse(end.stdout) as CheckReport;
    const loud = report.takes.filter((take) => take.findings.some((one) => one.code === 'clipped'));
    expect(loud.map((take) => take.file)).toEqual(
      truth.takes.filter((take) => take.clippedSamples > 0).map((take) => basename(take.file)),
    );
    for (const take of report.takes) {
      expect(take.findings.map((one) => one.code)).not.toContain('noSilence');
      expect(take.findings.map((one) => one.code)).not.toContain('noClap');
    }
  }, 60_000);
});
