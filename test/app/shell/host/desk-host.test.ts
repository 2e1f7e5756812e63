import { copyFileSync, existsSync, mkdirSync, readdirSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { WorkPool } from '../../../../app/work/pool.ts';
import { cleanFolders } from '../../desk/desk-kit.ts';
import { CLIP_RATE_HZ, shortTake, writeShortClips } from '../../desk/live/short-clips.ts';
import { writeWave } from '../../media/clip-kit.ts';
import { type TestDesk, testDesk } from './host-kit.ts';

cleanFolders();

const open: TestDesk[] = [];

async function deskWith(names: readonly string[]): Promise<TestDesk & { clips: string[] }> {
  const desk = testDesk();
  open.push(desk);
  await desk.call('newSession', { title: 'Morning round', folder: null });
  const clips = writeShortClips(join(desk.home, 'clips'), names);
  if (clips.length > 0) await desk.call('addClips', { files: clips, voiceId: null });
  return { ...desk, clips };
}

afterEach(async () => {
  for (const desk of open.splice(0)) await desk.host.close();
});

it('sessions of one title have folders of their own, and what is in one stays when another is begun', async () => {
  const desk = await deskWith(['flute.wav']);
  const titled = [desk.host.view()!.folder];
  for (const title of ['Morning round', 'Morning round']) {
    titled.push((await desk.call('newSession', { title, folder: null })).folder);
  }
  expect(titled.slice(1)).toEqual([`${titled[0]} 2`, `${titled[0]} 3`]);
  expect((await desk.call('openSession', { folder: titled[0]! })).session.takes).toHaveLength(1);
});

describe('clips that are added', () => {
  it('come from folders too, good ones beside bad ones, which are told one by one', async () => {
    const desk = await deskWith([]);
    const folder = join(desk.home, 'phone');
    const [first, second] = writeShortClips(join(folder, 'deep'), ['b.wav', 'c.wav']);
    renameSync(first!, join(folder, 'a.wav'));
    expect(second).toMatch('c.wav');
    writeFileSync(join(folder, 'broken.m4a'), 'no media');
    writeFileSync(join(folder, 'empty.mov'), '');
    writeFileSync(join(folder, 'notes.txt'), 'not looked at');
    const files = [folder, join(desk.home, 'nowhere.wav')];
    const { added, refused } = await desk.call('addClips', { files, voiceId: null });
    expect(added).toBe(2);
    expect(refused.map(({ code }) => code).sort()).toEqual(['file-empty', 'file-missing', 'not-media']);
    const again = await desk.call('addClips', { files: [folder], voiceId: null });
    expect(again.added).toBe(0);
    expect(again.refused.map(({ message }) => message)).toContain('a.wav is in the session already, as “a”.');
  });

  it('become takes of one voice by their names, or of the voice that is named', async () => {
    const desk = await deskWith(['1 Horn take 1.wav', '1 Horn take 2.wav', '2 Double bass.wav']);
    const { voices, takes } = desk.host.view()!.session;
    expect(voices.map(({ name, role, colour, chosenTakeId }) => [name, role, colour, chosenTakeId])).toEqual([
      ['Horn', 'inner', 0, 'take-1'],
      ['Double bass', 'bass', 1, 'take-3'],
    ]);
    expect(takes.map(({ voiceId }) => voiceId)).toEqual(['voice-1', 'voice-1', 'voice-2']);
    const more = writeShortClips(join(desk.home, 'more'), ['x.wav', 'y.wav', 'z.wav', 'anything.wav']);
    await desk.call('addClips', { files: [more[3]!], voiceId: 'voice-2' });
    expect(desk.host.view()!.session.takes.at(-1)).toMatchObject({ voiceId: 'voice-2', name: 'anything' });
    expect(desk.host.view()!.session.voices[1]!.chosenTakeId).toBe('take-3');
    expect(desk.host.view()!.undoLabel).toBe('add anything');
    expect((await desk.faultOf('addClips', { files: [more[0]!], voiceId: 'voice-9' })).code).toBe('bad-option');
  });

  it('tell a clip that holds nothing as faulty, and the rest goes on without it', async () => {
    const desk = await deskWith(['horn.wav', 'flute.wav']);
    const dead = join(desk.home, 'dead.wav');
    writeWave(dead, [new Float32Array(200_000), new Float32Array(200_000)], 48000);
    await desk.call('addClips', { files: [dead], voiceId: null });
    await desk.idle();
    const { takes, steps, blend } = desk.host.view()!;
    expect(takes['take-3']).toMatchObject({ state: 'faulty', fault: { code: 'digital-silence' }, playable: false });
    expect(steps.takes).toMatchObject({ state: 'lookHere', busy: false });
    expect(steps.blend).toMatchObject({
      state: 'lookHere',
      sentence: 'dead is not in the mix: its clip cannot be used.',
    });
    expect(blend!.voices).toHaveLength(2);
    expect(blend!.measuring).toBe(false);
  });

  it('cannot be brought in by an edit of a page', async () => {
    const desk = await deskWith(['horn.wav']);
    const take = desk.host.view()!.session.takes[0]!;
    const foreign = { ...take, id: 'take-7', clip: { ...take.clip, path: '/etc/hostname' } };
    const edit = { kind: 'together', label: 'x', edits: [{ kind: 'addTake', take: foreign }] } as const;
    const fault = await desk.faultOf('edit', { edit, mergeKey: null, by: 'page', seq: 1 });
    expect(fault.message).toBe('/etc/hostname is no clip of this session.');
    expect(await desk.host.media('clip/take-7')).toBeNull();
  });
});

describe('missing clips', () => {
  it('are told; what the caches have of them still sounds; they are found again by content', async () => {
    const desk = await deskWith(['horn.wav', 'flute.wav']);
    await desk.idle();
    const { folder, blend } = desk.host.view()!;
    await desk.call('closeSession', {});
    const moved = join(desk.home, 'elsewhere', 'deep');
    mkdirSync(moved, { recursive: true });
    renameSync(desk.clips[1]!, join(moved, 'renamed.wav'));
    await desk.call('openSession', { folder });
    await desk.idle();
    const view = desk.host.view()!;
    expect(view.takes['take-2']).toMatchObject({
      state: 'missing',
      playable: true,
      waves: { before: true, after: true },
    });
    expect(view.steps.takes.sentence).toBe('One clip is not where it was. Find it again.');
    expect(view.blend).toEqual(blend);
    expect(await desk.host.media('clip/take-2')).toBeNull();
    expect(await desk.call('relink', { takeId: 'take-2', file: desk.clips[0]!, evenIfOther: false })).toEqual({
      relinked: false,
      isOther: true,
    });
    expect(await desk.call('searchMissing', { folder: join(desk.home, 'elsewhere') })).toEqual({
      found: 1,
      missing: 0,
    });
    await desk.idle();
    expect(desk.host.view()!.takes['take-2']).toMatchObject({ state: 'ready', file: join(moved, 'renamed.wav') });
    expect(desk.host.view()!.blend).toEqual(blend);
  });

  it('are told where another clip lies in their place, and can be put right by hand', async () => {
    const desk = await deskWith(['horn.wav', 'flute.wav']);
    await desk.idle();
    const { folder } = desk.host.view()!;
    await desk.call('closeSession', {});
    const kept = join(desk.home, 'kept.wav');
    renameSync(desk.clips[1]!, kept);
    copyFileSync(desk.clips[0]!, desk.clips[1]!);
    await desk.call('openSession', { folder });
    await desk.idle();
    expect(desk.host.view()!.takes['take-2']).toMatchObject({ state: 'missing', fault: { code: 'file-missing' } });
    expect(await desk.call('relink', { takeId: 'take-2', file: kept, evenIfOther: false })).toEqual({
      relinked: true,
      isOther: false,
    });
    await desk.idle();
    expect(desk.host.view()!.takes['take-2']!.state).toBe('ready');
  });
});

describe('settings that change', () => {
  it('clean only the take they belong to, and come back from what is known when they are undone', async () => {
    const desk = await deskWith(['horn.wav', 'flute.wav']);
    await desk.idle();
    const titlesSince = (count: number): string[] => [
      ...new Set(
        desk.events
          .slice(count)
          .flatMap((event) => (event.kind === 'parts' ? (event.parts.jobs ?? []).map((job) => job.title) : [])),
      ),
    ];
    const before = desk.host.view()!;
    let count = desk.events.length;
    const clean = { on: true, character: 'firm', rule: 'lsa', fine: null } as const;
    const edit = { kind: 'setClean', takeId: 'take-1', clean } as const;
    await desk.call('edit', { edit, mergeKey: null, by: 'page', seq: 1 });
    await desk.idle();
    expect(titlesSince(count)).toEqual(expect.arrayContaining(['Cleaning a take', 'Measuring the mix']));
    expect(titlesSince(count)).not.toContain('Cleaning 2 takes');
    const firm = desk.host.view()!.takes['take-1']!.clean.noise!;
    expect(firm.reducedDb).toBeGreaterThan(before.takes['take-1']!.clean.noise!.reducedDb + 5);
    const fine = {
      reductionDb: 12,
      steadiness: 0.95,
      marginDb: 0,
      lineMarginDb: 3,
      follow: true,
      restoreClipped: true,
    };
    const finer = { kind: 'setClean', takeId: 'take-1', clean: { ...clean, fine } } as const;
    await desk.call('edit', { edit: finer, mergeKey: null, by: 'page', seq: 2 });
    await desk.idle();
    expect(desk.host.view()!.takes['take-1']!.clean.noise!.reducedDb).toBeCloseTo(12, 0);
    await desk.call('undo', {});
    await desk.idle();
    count = desk.events.length;
    await desk.call('undo', {});
    await desk.idle();
    expect(titlesSince(count)).toEqual([]);
    // Another sound is told by being away for a moment, even where it is known at once.
    const told = desk.events.slice(count).flatMap((event) => (event.kind === 'take' ? [event.facts?.playable] : []));
    expect(told).toEqual([false, true]);
    expect(desk.host.view()!.takes).toEqual(before.takes);
    expect(desk.host.view()!.blend).toEqual(before.blend);
  });
});

describe('a render', () => {
  it('that is stopped leaves nothing, neither does one into a folder that is a file', async () => {
    const desk = await deskWith(['horn.wav', 'flute.wav']);
    await desk.idle();
    const { folder } = desk.host.view()!;
    const { jobId } = await desk.call('render', { folder: null, wave: 'pcm24', copy: 'mp3', stems: true });
    expect((await desk.faultOf('render', { folder: null, wave: 'pcm24', copy: null, stems: false })).code).toBe(
      'bad-option',
    );
    await new Promise((resolve) => setTimeout(resolve, 30));
    await desk.call('stopJob', { jobId });
    await desk.idle();
    expect(desk.host.view()!.render).toBeNull();
    expect(existsSync(join(folder, 'renders')) ? readdirSync(join(folder, 'renders')) : []).toEqual([]);
    expect(desk.events.filter((event) => event.kind === 'fault')).toEqual([]);
    const file = join(desk.home, 'a-file');
    writeFileSync(file, '');
    const fault = await desk.faultOf('render', { folder: file, wave: 'pcm24', copy: null, stems: false });
    expect(fault.code).toBe('target-unwritable');
    expect(fault.nextStep).not.toMatch(/--/);
  });

  it('waits for what it is made from', async () => {
    const desk = await deskWith(['horn.wav', 'flute.wav']);
    await desk.call('render', { folder: null, wave: 'pcm16', copy: null, stems: false });
    await desk.idle();
    expect(desk.host.view()!.render).toMatchObject({ current: true, files: [{ what: 'mix' }, {}, {}] });
  });
});

describe('opening and closing', () => {
  it('leaves no file open and no thread behind after ten sessions', async () => {
    const desk = testDesk(undefined, () => new WorkPool(0));
    open.push(desk);
    await desk.call('newSession', { title: 'One of ten', folder: null });
    const clips = writeShortClips(join(desk.home, 'clips'), ['horn.wav', 'flute.wav']);
    await desk.call('addClips', { files: clips, voiceId: null });
    await desk.idle();
    const { folder } = desk.host.view()!;
    const openFiles = (): number => readdirSync('/proc/self/fd').length;
    await desk.call('closeSession', {});
    const before = openFiles();
    for (let n = 0; n < 10; n++) {
      await desk.call('openSession', { folder });
      // Closed at once, while it looks, or when all is there.
      if (n % 2 === 0) await desk.idle();
      await desk.bytes('stretch?from=0&frames=1000&sources=take-1:after').catch(() => undefined);
      await desk.call('closeSession', {});
    }
    expect(openFiles()).toBeLessThanOrEqual(before);
    expect(existsSync(join(folder, 'caches'))).toBe(true);
  });

  it('tells the start what there is, and gives an open session when it is asked for again', async () => {
    const desk = await deskWith(['horn.wav']);
    const start = await desk.call('begin', {});
    expect(start.desk!.session.title).toBe('Morning round');
    expect(start.recents[0]).toMatchObject({ title: 'Morning round', isMissing: false });
    const { folder } = start.desk!;
    expect((await desk.call('openSession', { folder })).folder).toBe(folder);
    await desk.call('closeSession', {});
    expect((await desk.faultOf('undo', {})).message).toBe('No session is open.');
    rmSync(folder, { recursive: true });
    expect((await desk.faultOf('openSession', { folder })).code).toBe('file-missing');
  });
});

describe('the guide', () => {
  it('places takes by itself; while it is missing, what was found with it stays', async () => {
    const desk = await deskWith(['horn.wav', 'flute.wav']);
    await desk.idle();
    const guide = join(desk.home, 'guide.wav');
    const samples = shortTake(1);
    writeWave(guide, [samples, samples], CLIP_RATE_HZ);
    await desk.call('setGuide', { file: guide });
    await desk.idle();
    const { folder, session, steps } = desk.host.view()!;
    expect(desk.host.view()!.guide).toMatchObject({ takeId: 'guide', state: 'ready', waves: { before: true } });
    expect((await desk.bytes('stretch?from=0&frames=10&sources=guide:before')).length).toBe(40);
    await desk.call('closeSession', {});
    rmSync(guide);
    rmSync(join(folder, 'caches'), { recursive: true });
    await desk.call('openSession', { folder });
    await desk.idle();
    expect(desk.host.view()!.guide!.state).toBe('missing');
    expect(desk.host.view()!.session).toEqual(session);
    expect(desk.host.view()!.steps.lineUp).toEqual(steps.lineUp);
    await desk.call('setGuide', { file: null });
    await desk.idle();
    expect(desk.host.view()!.guide).toBeNull();
    expect(desk.host.view()!.undoLabel).toBe('remove the guide');
  });
});
