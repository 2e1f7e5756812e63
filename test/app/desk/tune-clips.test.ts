import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { tuneLines } from '../../../app/cli/tune-lines.ts';
import { Cache } from '../../../app/desk/cache.ts';
import { takeInClips } from '../../../app/desk/take-in.ts';
import { pitchRow, trackTaken } from '../../../app/desk/track-taken.ts';
import { type TuneClipsOptions, tuneClips } from '../../../app/desk/tune-clips.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import { medianOf } from '../../../core/pitch/pitch-span.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { guideOf, play, scoreText } from './tune-kit.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-tune-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

let guide = '';
let clips: string[] = [];
const score = join(folder, 'piece.musicxml');

beforeAll(async () => {
  writeFileSync(score, scoreText());
  guide = await guideOf(score, folder);
  clips = [
    await play(guide, { name: 'flute', part: 0, cents: 22, lateSec: 0.045, offsetSec: 0.8 }, folder),
    await play(guide, { name: 'cello', part: 1, cents: 2, lateSec: 0, offsetSec: -1.2 }, folder),
  ];
});

const usual: Omit<TuneClipsOptions, 'clips'> = {
  referenceHz: null,
  temperament: 'equal',
  tonic: 0,
  onStep: () => () => {},
};

describe('tune', () => {
  it('with a guide tells reference, voices and lateness: 1 cent, 1 cent, 10 ms', async () => {
    const report = await tuneClips({ ...usual, clips, guide });
    expect(report.against).toBe('guide');
    expect(report.voices.map((voice) => [voice.part, voice.notesMatched])).toEqual([
      ['Flute', 16],
      ['Cello', 16],
    ]);
    expect(Math.abs(report.intonation!.reference.cents - 12)).toBeLessThan(1);
    expect(report.intonation!.voices.map((voice) => Math.round(voice.centreCents!))).toEqual([10, -10]);
    // The line-up takes out what a voice is late all through, so that only the change is known.
    const late = report.timing!.voices[0]!.notes.map((note) => note.lateMs);
    const change = medianOf(late.slice(8)) - medianOf(late.slice(0, 8));
    expect(Math.abs(change - 45)).toBeLessThan(10);
    expect(report.notes.join(' ')).toContain('early or late all through');
    expect(report.timing!.bars.map((bar) => bar.bar)).toEqual([1, 2, 3, 4]);
    expect(report.intonation!.worstChords[0]!.worst.offCents).toBeGreaterThan(5);
    const lines = tuneLines(report).join('\n');
    expect(lines).toContain('Your A4 is 443.1 Hz');
    expect(lines).toContain('the guide tunes at 440 Hz');
    expect(lines).toContain('flute (Flute, 16 of 16 notes): +10 cents');
    expect(lines).toMatch(/flute .*, notes spread by [\d.]+ cents, each known within [2-4]\./);
    expect(lines).toMatch(/bar \d \(at 0:\d\d\.\d\): .* between cello and flute is \d+ cents too wide/);
    expect(JSON.parse(JSON.stringify(report))).toEqual(report);
  });

  it('with a score but no guide finds the time of the score by itself, with its bars', async () => {
    const report = await tuneClips({ ...usual, clips, score, referenceHz: 440 });
    expect(report.against).toBe('score');
    expect(report.voices.map((voice) => voice.part)).toEqual(['Flute', 'Cello']);
    expect(Math.abs(report.intonation!.voices[0]!.centreCents! - 22)).toBeLessThan(1);
    expect(report.intonation!.voices[0]!.notes.at(-1)!.bar).toBe(4);
  });

  it('with a guide of clicks only holds notes against the keys and against its beats', async () => {
    const clicks = join(folder, 'clicks.wav');
    copyFileSync(guide, clicks);
    const file = JSON.parse(readFileSync(guide.replace('.wav', '.guide.json'), 'utf8')) as {
      score: { parts: unknown[] };
    };
    file.score.parts = [];
    writeFileSync(clicks.replace('.wav', '.guide.json'), JSON.stringify(file));
    const report = await tuneClips({ ...usual, clips, guide: clicks });
    expect(report.against).toBe('keys');
    expect(report.timing!.against).toBe('guide');
    const late = report.timing!.voices[0]!.notes.filter((note) => note.bar !== null && note.bar > 2);
    const early = report.timing!.voices[0]!.notes.filter((note) => note.bar !== null && note.bar <= 2);
    const change = medianOf(late.map((note) => note.lateMs)) - medianOf(early.map((note) => note.lateMs));
    expect(Math.abs(change - 45)).toBeLessThan(10);
  });

  it('with neither holds a single clip against the keys', async () => {
    const report = await tuneClips({ ...usual, clips: [clips[0]!], referenceHz: 440 });
    expect(report.against).toBe('keys');
    expect(Math.abs(report.intonation!.voices[0]!.centreCents! - 22)).toBeLessThan(1);
    expect(report.timing).toBeNull();
  });

  it('stops when it is told to, and names a score that cannot be read', async () => {
    await expect(tuneClips({ ...usual, clips, signal: AbortSignal.abort() })).rejects.toThrow(CancelledError);
    await expect(tuneClips({ ...usual, clips, score: join(folder, 'none.mid') })).rejects.toMatchObject({
      code: 'file-missing',
    });
  });

  it('follows a sound once: the second time its pitch comes from the cache', async () => {
    const cache = new Cache(join(folder, 'cache'));
    const pool = new WorkPool(0);
    const takes = await takeInClips([clips[0]!], cache, pool, { traced: false });
    const first = await trackTaken(takes, cache, pool);
    let asked = 0;
    const again = await trackTaken(takes, cache, {
      runAll: async (_: string, requests: readonly unknown[]) => {
        asked += requests.length;
        return [];
      },
    } as unknown as WorkPool);
    expect(asked).toBe(0);
    expect(again).toEqual(first);
    const row = pitchRow(takes[0]!, first[0]!, cache);
    expect(row.hz).toHaveLength(first[0]!.frames);
    expect(row.hz.some((hz) => hz > 400)).toBe(true);
    await pool.close();
  });
});
