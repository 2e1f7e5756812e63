import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { TakesSheet } from '../../../app/desk/takes-sheet.ts';
import type { Report } from '../../../core/session/report.ts';
import { parseSession } from '../../../core/session/schema.ts';
import { SEVERAL_RATE_HZ, severalClip, THREE_TAKES, THREE_TAKES_SEC } from '../desk/live/several-clip.ts';
import { writeWave } from '../media/clip-kit.ts';
import { builtCommand, partsong } from './command.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-several-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const evening = join(folder, 'evening.wav');
const flute = join(folder, 'flute.wav');
beforeAll(async () => {
  await builtCommand();
  // The first take is far louder than what the recorder takes.
  const takes = THREE_TAKES.map((take, n) => ({ ...take, gain: n === 0 ? 5 : 1 }));
  const samples = severalClip(THREE_TAKES_SEC, takes).map((value) => Math.max(-0.6, Math.min(0.6, value)));
  writeWave(evening, [samples], SEVERAL_RATE_HZ);
  writeWave(flute, [severalClip(26, THREE_TAKES.slice(0, 1), 5)], SEVERAL_RATE_HZ);
});

describe('a clip of three takes at the command line', () => {
  it('is told of, and used as one', async () => {
    const { stdout } = await partsong(['takes', evening, flute, '--quick', '--json']);
    const { voices } = JSON.parse(stdout) as TakesSheet;
    expect(voices.map(({ takes }) => takes.length)).toEqual([1, 1]);
    expect(voices[0]!.takes[0]!.notes.join(' ')).toMatch(/seems to hold 3 takes, which begin at .*with --apart/);
  });

  it('is compared take by take with --apart, and the one that is not clipped is proposed', async () => {
    const { stdout, code } = await partsong(['takes', evening, flute, '--apart']);
    expect(code).toBe(0);
    expect(stdout).toMatch(/> evening, [23]: from 0:\d\d\.\d to 1?:?\d?\d:?\d\d\.\d of evening\.wav/);
    expect(stdout).toMatch(/Proposed: evening, [23]\. .*evening, 1 is clipped in \d+ spots\./);
    expect(stdout).toMatch(/scatter \d+ ms/);
  });

  it('is mixed with its best take, the others lie in the session too', async () => {
    const out = join(folder, 'out');
    const { stdout, code } = await partsong([
      'mix',
      evening,
      flute,
      '--apart',
      '--copy',
      'none',
      '--out',
      out,
      '--json',
    ]);
    expect(code).toBe(0);
    const report = JSON.parse(stdout) as Report;
    expect(report.takes.map(({ name }) => name)).toEqual([expect.stringMatching(/^evening, [23]$/), 'flute']);
    expect(report.takes[0]!.part!.fromSec).toBeGreaterThan(22);
    expect(report.takes[1]!.part).toBeUndefined();
    expect(report.notes.join(' ')).toMatch(/Of 3 takes evening, [23] is mixed\./);
    const session = parseSession(readFileSync(join(out, 'session.json'), 'utf8'), 'session.json');
    expect(session.takes.map(({ name, part }) => [name, part === null])).toEqual([
      ['evening, 1', false],
      ['evening, 2', false],
      ['evening, 3', false],
      ['flute', true],
    ]);
    expect(session.takes.find(({ id }) => id === session.voices[0]!.chosenTakeId)!.name).toBe(report.takes[0]!.name);
  });

  it('gives clips to voices by hand, and says what is wrong with what was said', async () => {
    const { stdout } = await partsong(['takes', '--quick', '--json', '--voice', `Oboe=${evening},${flute}`]);
    const { voices } = JSON.parse(stdout) as TakesSheet;
    expect(voices.map(({ voice, takes }) => [voice, takes.length])).toEqual([['Oboe', 2]]);
    const none = await partsong(['takes']);
    expect([none.code, none.stderr]).toEqual([2, expect.stringMatching(/No clips are named/)]);
    const uneven = await partsong(['takes', evening, flute, '--by', 'order']);
    expect([uneven.code, uneven.stderr]).toEqual([2, expect.stringMatching(/--each 2/)]);
  });
});
