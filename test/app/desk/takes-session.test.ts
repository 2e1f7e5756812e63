import { mkdirSync, readFileSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { spanSaid } from '../../../app/cli/options.ts';
import { Desk } from '../../../app/desk/desk.ts';
import { mixSession } from '../../../app/desk/mix-session.ts';
import { type TakesSessionOptions, takesOfSession } from '../../../app/desk/takes-session.ts';
import { parseSession, type Session } from '../../../core/session/schema.ts';
import type { PartsongError } from '../../../core/signal/fault.ts';
import { writeWave } from '../media/clip-kit.ts';
import { cleanFolders, freshFolder, openDesk } from './desk-kit.ts';
import { SEVERAL_RATE_HZ, severalClip, THREE_TAKES, THREE_TAKES_SEC } from './live/several-clip.ts';

cleanFolders();

const clips = join(freshFolder(), 'clips');
mkdirSync(clips);
const at = (name: string): string => join(clips, name);
const folder = join(freshFolder(), 'piece');
const running = { signal: new AbortController().signal, onStep: () => () => undefined };

const told = (more: Partial<TakesSessionOptions>) =>
  takesOfSession({
    ...running,
    ...{ session: folder, clips: [], rule: { by: 'name' }, byHand: [], apart: false, played: false, spanOf: spanSaid },
    ...{ parts: [], bounds: [], marks: [], remarks: [], choose: [], use: [] },
    ...more,
  });
const refusal = (work: Promise<unknown>): Promise<string> =>
  work.then(
    () => Promise.reject(new Error('it was not refused')),
    (fault: PartsongError) => `${fault.message} ${fault.nextStep}`,
  );
const session = (): Session => parseSession(readFileSync(join(folder, 'session.json'), 'utf8'), folder);
const voices = (): [string, string[]][] =>
  session().voices.map(({ id, name }) => [
    name,
    session().takes.flatMap((take) => (take.voiceId === id ? [take.name] : [])),
  ]);

describe('the takes of a session, by the command line', { timeout: 120_000 }, () => {
  beforeAll(async () => {
    writeWave(at('IMG_1.wav'), [severalClip(THREE_TAKES_SEC, THREE_TAKES)], SEVERAL_RATE_HZ);
    writeWave(at('IMG_2.wav'), [severalClip(26, THREE_TAKES.slice(0, 1), 5)], SEVERAL_RATE_HZ);
    writeWave(at('IMG_3.wav'), [severalClip(26, THREE_TAKES.slice(0, 1), 6)], SEVERAL_RATE_HZ);
    const desk = await Desk.begin(folder, 'Piece');
    await desk.close();
  });

  it('come in, several in a row to a voice, into a session that holds nothing yet', async () => {
    const { done } = await told({ clips: ['IMG_1.wav', 'IMG_2.wav'].map(at), rule: { by: 'order', each: 2 } });
    expect(done).toEqual(['IMG_1: now a take of the voice IMG 1.', 'IMG_2: now a take of the voice IMG 1.']);
    expect(voices()).toEqual([['IMG 1', ['IMG_1', 'IMG_2']]]);
  });

  it('are given to voices by name, clips and takes alike, and a voice that loses its last take goes', async () => {
    const byHand = [
      { name: 'Tenor', clips: ['IMG_1', at('IMG_3.wav')] },
      { name: 'Bass', clips: ['IMG_2'] },
    ];
    await told({ byHand });
    expect(voices()).toEqual([
      ['Tenor', ['IMG_1', 'IMG_3']],
      ['Bass', ['IMG_2']],
    ]);
    expect(session().voices.map(({ role }) => role)).toEqual(['inner', 'bass']);
  });

  it('are parted where a clip holds several, or as it is said, and each finds its place', async () => {
    const { done } = await told({ apart: true });
    expect(done).toEqual([expect.stringMatching(/^IMG_1: 3 takes of its clip, from 0:0/)]);
    await told({ bounds: ['IMG_1, 3=0:50-1:18'], parts: ['IMG_2=0:03-0:15'] });
    expect(voices()).toEqual([
      ['Tenor', ['IMG_1, 1', 'IMG_3', 'IMG_1, 2', 'IMG_1, 3']],
      ['Bass', ['IMG_2', 'IMG_2, 2']],
    ]);
    const { takes } = session();
    expect(takes.find(({ name }) => name === 'IMG_1, 3')!.part).toEqual({ fromSec: 50, toSec: 78 });
    expect(takes.find(({ name }) => name === 'IMG_2, 2')!.part).toEqual({ fromSec: 3, toSec: 15 });
    expect(takes.every(({ placement }) => placement !== null)).toBe(true);
    expect(await refusal(told({ parts: ['IMG_2=0:03-0:04'] }))).toMatch(/at least 2 s/);
    expect(await refusal(told({ choose: ['IMG'] }))).toMatch(/not clear: 6 have that.*The takes are: IMG_1, 1, /);
  });

  it('sound as the best that is proposed where that is asked for, and the mark of the player counts', async () => {
    const { done, voices: sheet } = await told({ marks: ['IMG_1, 2=best', 'IMG_1, 1=no'], choose: ['proposed'] });
    expect(done).toContain('Tenor: now sounds with IMG_1, 2. You marked it the best.');
    expect(sheet[0]!.sounds).toBe('IMG_1, 2');
    expect(sheet[0]!.best!.name).toBe('IMG_1, 2');
  });

  it('are parts of one clip in the mix of the command line: stem and report know which', async () => {
    const { report } = await mixSession({ session: folder, clips: [], wave: 'float32', ...running });
    expect(report.takes[0]).toMatchObject({ name: 'IMG_1, 2', stem: 'stems/IMG_1, 2.wav' });
    expect(report.takes[0]!.part!.fromSec).toBeGreaterThan(20);
  });

  it('are found again by content where their clips were moved and renamed', async () => {
    const elsewhere = join(freshFolder(), 'away');
    mkdirSync(elsewhere);
    renameSync(at('IMG_1.wav'), join(elsewhere, 'other name.wav'));
    expect(await refusal(told({}))).toMatch(/IMG_1\.wav.*--find FOLDER/);
    const { done } = await told({ find: elsewhere });
    expect(done[0]).toMatch(/^Found again: .*other name\.wav$/);
    expect(session().takes.filter(({ clip }) => clip.path.endsWith('other name.wav'))).toHaveLength(3);
    const desk = await openDesk(folder);
    desk.undo();
    expect(desk.session.takes.some(({ clip }) => clip.path.endsWith('other name.wav'))).toBe(false);
    await desk.close();
  });
});
