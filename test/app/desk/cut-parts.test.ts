import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Attempt, attemptsOf } from '../../../app/desk/attempts.ts';
import { Cache } from '../../../app/desk/cache.ts';
import { takeInClips } from '../../../app/desk/take-in.ts';
import { notesOfPart } from '../../../app/media/audio-facts.ts';
import { findFfmpeg } from '../../../app/media/ffmpeg.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import { splitEdit } from '../../../core/session/split-take.ts';
import { make, writeWave } from '../media/clip-kit.ts';
import { testDesk } from '../shell/host/host-kit.ts';
import { cleanFolders, freshFolder } from './desk-kit.ts';
import { SEVERAL_RATE_HZ, severalClip, THREE_TAKES, THREE_TAKES_SEC } from './live/several-clip.ts';

cleanFolders();

describe('parts of a clip of 80 s whose picture ends 40.95 s before its sound', { timeout: 60_000 }, () => {
  const PICTURE_SEC = 39.05;
  const pool = new WorkPool(0);
  let file: string;
  let whole: readonly string[];
  let parts: readonly Attempt[];
  beforeAll(async () => {
    const folder = freshFolder();
    writeWave(join(folder, 'sound.wav'), [severalClip(THREE_TAKES_SEC, THREE_TAKES)], SEVERAL_RATE_HZ);
    const picture = ['-f', 'lavfi', '-i', `color=s=96x64:r=20:d=${PICTURE_SEC}`, '-c:v', 'mpeg4', '-c:a', 'aac'];
    make(await findFfmpeg(), ['-i', 'sound.wav', ...picture, 'horn.mp4'], folder);
    file = join(folder, 'horn.mp4');
    const cache = new Cache(join(folder, 'caches'));
    const taken = await takeInClips([file], cache, pool);
    const voices = [{ name: 'Horn', clips: [file] }];
    whole = (await attemptsOf(voices, taken, false, cache, pool))[0]!.notes;
    parts = await attemptsOf(voices, taken, true, cache, pool);
  }, 60_000);
  afterAll(() => pool.close());

  it('are three, and of the whole clip it is told', () => {
    expect(parts).toHaveLength(3);
    expect(whole).toContain('Its sound ends 40.95 s after its picture.');
  });

  it('are told of it only where their own picture ends before their sound, with their own seconds', () => {
    const spans = parts.map(({ part }) => part!);
    expect(spans[0]!.toSec).toBeLessThan(PICTURE_SEC);
    expect(parts[0]!.notes.join(' ')).not.toMatch(/picture/);
    const after = (spans[1]!.toSec - PICTURE_SEC).toFixed(2);
    expect(parts[1]!.notes).toContain(`Its sound ends ${after} s after its picture.`);
    const before = (spans[2]!.fromSec - PICTURE_SEC).toFixed(2);
    expect(parts[2]!.notes).toContain(`It has no picture: that of its clip ends ${before} s before it begins.`);
    expect(parts.flatMap(({ notes }) => notes).join(' ')).not.toContain('40.95');
  });

  it('are told the same at the desk', async () => {
    const desk = testDesk();
    await desk.call('newSession', { title: 'Parts', folder: null });
    await desk.call('addClips', { files: [file], voiceId: null });
    await desk.idle();
    const { session, takes } = desk.host.view()!;
    const take = session.takes[0]!;
    const change = splitEdit(session, take, takes[take.id]!.several!.parts, ['take-b', 'take-c']);
    await desk.call('edit', { edit: change, mergeKey: null, by: 'test', seq: 1 });
    await desk.idle();
    const after = desk.host.view()!;
    expect(after.session.takes.map(({ id }) => after.takes[id]!.notes)).toEqual(parts.map(({ taken }) => taken.notes));
    await desk.host.close();
  });
});

describe('the notes of a part of a clip', () => {
  const late = { pictureEndSec: 30, note: 'Its sound ends 2.00 s before its picture.' };
  const early = { pictureEndSec: 30, note: 'Its sound ends 50.00 s after its picture.' };

  it('keep what else is told of the clip', () => {
    expect(notesOfPart(['It is mono.', early.note, 'It is cut off.'], early, 0, 20)).toEqual([
      'It is mono.',
      'It is cut off.',
    ]);
    expect(notesOfPart(['It is mono.'], undefined, 0, 20)).toEqual(['It is mono.']);
  });

  it('say nothing of a picture that goes on after the sound of the clip: it goes on after no part', () => {
    for (const [fromSec, toSec] of [
      [0, 10],
      [10, 28],
    ] as const) {
      expect(notesOfPart([late.note], late, fromSec, toSec)).toEqual([]);
    }
  });

  it('say nothing where the picture lacks less than 0.2 s, as it may of a whole clip', () => {
    expect(notesOfPart([early.note], early, 5, 30.15)).toEqual([]);
    expect(notesOfPart([early.note], early, 5, 30.25)).toEqual(['Its sound ends 0.25 s after its picture.']);
  });
});
