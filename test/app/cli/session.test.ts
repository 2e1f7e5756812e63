import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { LineUpOfSession } from '../../../app/desk/line-up-session.ts';
import type { MendOfSession } from '../../../app/desk/session/mend-session.ts';
import type { TakesOfSession } from '../../../app/desk/takes-session.ts';
import type { TuneReport } from '../../../app/desk/tune-clips.ts';
import { anchorsOf } from '../../../core/session/anchors.ts';
import type { Report } from '../../../core/session/report.ts';
import { parseSession, type Session } from '../../../core/session/schema.ts';
import { openDesk } from '../desk/desk-kit.ts';
import { guideOf, play, scoreText } from '../desk/tune-kit.ts';
import { builtCommand, partsong } from './command.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-session-command-'));
const out = join(folder, 'canon');
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const session = (): Session => parseSession(readFileSync(join(out, 'session.json'), 'utf8'), out);
const takeOf = (name: string) => session().takes.find((take) => take.name === name)!;
async function told<Result>(...args: string[]): Promise<Result> {
  const end = await partsong([...args, '--json']);
  expect(end.stderr).not.toMatch(/defect/);
  expect([end.code, end.stderr]).toEqual([0, expect.anything()]);
  return JSON.parse(end.stdout) as Result;
}

let second = '';
beforeAll(async () => {
  await builtCommand();
  const score = join(folder, 'piece.musicxml');
  writeFileSync(score, scoreText());
  const guide = await guideOf(score, folder);
  const first = await play(guide, { name: 'flute t1', part: 0, cents: -18, lateSec: 0, offsetSec: 0 }, folder);
  const cello = await play(guide, { name: 'cello', part: 1, cents: 0, lateSec: 0, offsetSec: 0 }, folder);
  second = await play(guide, { name: 'flute t2', part: 0, cents: 6, lateSec: 0, offsetSec: 0.4 }, folder);
  await told('mix', first, cello, '--by', 'name', '--guide', guide, '--copy', 'none', '--out', out);
}, 180_000);

describe('a session worked on by the command line alone', () => {
  it('gets a take of a voice it has, and what sounds stays what it was', async () => {
    const { voices, done } = await told<TakesOfSession>('takes', out, second, '--quick');
    expect(voices.map(({ voice, takes, sounds }) => [voice, takes.length, sounds])).toEqual([
      ['flute', 2, 'flute t1'],
      ['cello', 1, 'cello'],
    ]);
    expect(done).toEqual(['flute t2: now a take of the voice flute.']);
    expect(Math.abs(takeOf('flute t2').placement!.offsetSec - 0.4)).toBeLessThan(0.02);
  }, 120_000);

  it('sounds with another take, and with a stretch of the first between rests or notes, as it is said', async () => {
    const used = await told<TakesOfSession>(
      ...['takes', out, '--choose', 'flute t2', '--use', 'flute t1=8.5-10.6'],
      ...['--mark', 'flute t2=best', '--remark', 'flute t2=warm = good'],
    );
    expect(used.done.join(' ')).toMatch(/flute: now sounds with flute t2\. .*sounds with flute t1 from 0:0\d\.\d \(\w/);
    const [flute] = session().voices;
    expect(flute!.passages!.map(({ takeId }) => takeId)).toEqual(['take-3', 'take-1', 'take-3']);
    expect(Math.abs(flute!.passages![1]!.fromSec - 8.5)).toBeLessThan(0.7);
    expect(takeOf('flute t2')).toMatchObject({ mark: 'best', remark: 'warm = good' });
  }, 120_000);

  it('is lined up by pins, moves a take, and says why a pin cannot be', async () => {
    const { takes, done } = await told<LineUpOfSession>(
      'lineup',
      out,
      '--pin',
      'cello=0:06@6.01',
      '--move',
      'flute t2=-3',
    );
    expect(done).toHaveLength(2);
    expect(anchorsOf(takeOf('cello').placement)).toEqual([{ takeSec: 6, atSec: 6.01, jumpTakeSec: null }]);
    expect(takes.find(({ name }) => name === 'cello')!.placement.offsetSec).toBeCloseTo(0.01, 6);
    const refused = await partsong(['lineup', out, '--pin', 'cello=0:07@7.02']);
    expect([refused.code, refused.stderr]).toEqual([2, expect.stringMatching(/cello cannot be pinned so: .*5 s/)]);
    const beyond = await partsong(['lineup', out, '--pin', 'cello=9:00@0:07']);
    expect([beyond.code, beyond.stderr]).toEqual([2, expect.stringMatching(/cello has no moment 9:00.*: it is 0:/)]);
    const odd = await partsong(['lineup', out, '--pin', 'cello=0:99@0:07']);
    expect([odd.code, odd.stderr]).toEqual([2, expect.stringContaining('"0:99" is no moment')]);
    await told('lineup', out, '--unpin', 'cello');
    expect(takeOf('cello').placement).toMatchObject({ by: 'found' });
  }, 120_000);

  it('tells what could be mended, and mends the take that is named', async () => {
    const choose = await told<TakesOfSession>('takes', out, '--choose', 'flute t1');
    expect(choose.done).toEqual(['flute: now sounds with flute t1.']);
    const { takes } = await told<MendOfSession>('mend', out, '--reference-hz', '440');
    const flute = takes.find(({ take }) => take === 'flute t1')!;
    expect(Math.abs(flute.proposed!.cents - 18)).toBeLessThanOrEqual(1);
    expect(flute.mend).toBeNull();
    const wish = ['--take', 'flute t1', '--cents', 'auto', '--reference-hz', '440'];
    const mended = await told<MendOfSession>('mend', out, ...wish);
    expect(Math.abs(mended.takes[0]!.after!.offCents)).toBeLessThan(1.5);
    expect(takeOf('flute t1').mend).toMatchObject({ cents: flute.proposed!.cents });
    const report = await told<TuneReport>('tune', out, '--reference-hz', '440');
    expect(Math.abs(report.intonation!.voices.find(({ name }) => name === 'flute')!.centreCents!)).toBeLessThan(1.5);
  }, 180_000);

  it('is rendered as it stands, and undo takes back the last that was decided', async () => {
    const report = await told<Report>('mix', out, '--copy', 'none');
    expect(report.takes.map(({ name, mend }) => [name, mend === null])).toEqual([
      ['flute t1', false],
      ['cello', true],
    ]);
    const undone = await partsong(['undo', out]);
    expect(undone.stdout).toMatch(/^Taken back: .*\n/);
    expect(takeOf('flute t1').mend).toBeNull();
    await told('redo', out);
    expect(takeOf('flute t1').mend).not.toBeNull();
  }, 120_000);

  it('is refused while it is open elsewhere, and options that change a session without one', async () => {
    const held = await openDesk(out);
    try {
      for (const verb of ['mix', 'takes', 'lineup', 'tune', 'mend', 'undo']) {
        const end = await partsong([verb, out]);
        expect([verb, end.code]).toEqual([verb, 42]);
      }
    } finally {
      await held.close();
    }
    for (const args of [
      ['takes', second, '--choose', 'flute t2'],
      ['lineup', second, '--move', 'flute=3'],
      ['mend', second, '--take', 'flute t2'],
    ]) {
      const end = await partsong(args);
      expect([end.code, end.stderr]).toEqual([2, expect.stringMatching(/changes a session, and none is named/)]);
    }
    const anew = await partsong(['mix', second, '--out', out]);
    expect([anew.code, anew.stderr]).toEqual([22, expect.stringMatching(/things were chosen since it was mixed/)]);
  }, 180_000);
});
