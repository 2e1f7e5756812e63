import { mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type MixSessionOptions, mixSession } from '../../../app/desk/mix-session.ts';
import { withAnchor } from '../../../core/session/anchors.ts';
import { withStretch } from '../../../core/session/passages.ts';
import { parseSession, type Session } from '../../../core/session/schema.ts';
import type { PartsongError } from '../../../core/signal/fault.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { writeWave } from '../media/clip-kit.ts';
import { type TestDesk, testDesk } from '../shell/host/host-kit.ts';
import { cleanFolders, freshFolder, openDesk } from './desk-kit.ts';
import { CLIP_RATE_HZ, shortTake } from './live/short-clips.ts';

cleanFolders();

const clips = join(freshFolder(), 'clips');
mkdirSync(clips);

function clip(name: string, seed: number, late: number, gain = 1): string {
  const path = join(clips, name);
  const samples = shortTake(seed, late).map((value) => value * gain);
  writeWave(path, [samples, samples], CLIP_RATE_HZ);
  return path;
}

const mixed = (session: string, more: Partial<MixSessionOptions> = {}) =>
  mixSession({
    session,
    clips: [],
    wave: 'float32',
    signal: new AbortController().signal,
    onStep: () => () => undefined,
    ...more,
  });
const faultOf = (work: Promise<unknown>): Promise<PartsongError> =>
  work.then(
    () => Promise.reject(new Error('it was not refused')),
    (fault: unknown) => fault as PartsongError,
  );
const sessionIn = (folder: string): Session => parseSession(readFileSync(join(folder, 'session.json'), 'utf8'), folder);

describe('a session in which things were decided, mixed by the command line', () => {
  let desk: TestDesk;
  let folder = '';
  let decided: Session;
  let rendered: Buffer;
  const edit = (change: Parameters<typeof desk.call<'edit'>>[1]['edit']) =>
    desk.call('edit', { edit: change, mergeKey: null, by: 'page', seq: 1 });

  beforeAll(async () => {
    desk = testDesk();
    await desk.call('newSession', { title: 'Canon', folder: null });
    const files = [
      clip('horn t1.wav', 1, 0),
      clip('horn t2.wav', 1, 0.15, 0.5),
      clip('flute.wav', 2, 0.1),
      clip('bass.wav', 3, 0),
    ];
    await desk.call('addClips', { files, voiceId: null });
    await desk.idle();
    const { takes } = desk.host.view()!.session;
    const zero = takes[0]!.placement!.offsetSec;
    const stretch = { takeId: 'take-2', fromSec: zero + 7.45, toSec: zero + 9.45 };
    await edit({ kind: 'setPassages', voiceId: 'voice-1', passages: withStretch(null, 'take-1', stretch) });
    await edit({
      kind: 'setMend',
      takeId: 'take-2',
      mend: { cents: 14, curve: [], nudges: [{ fromSec: 7.6, toSec: 9.1, byMs: 20 }] },
    });
    await edit({ kind: 'setPart', takeId: 'take-3', part: { fromSec: 1.5, toSec: 11 } });
    const flute = desk.host.view()!.session.takes[2]!.placement!;
    const pinned = withAnchor(flute, { takeSec: 5, atSec: flute.offsetSec + 5.03, jumpTakeSec: null });
    if (pinned.kind === 'refused') throw new Error(pinned.reason);
    await edit({ kind: 'setPlacement', takeId: 'take-3', placement: pinned.value });
    await edit({ kind: 'setTrim', voiceId: 'voice-2', trimDb: -3 });
    await edit({ kind: 'setPlace', voiceId: 'voice-3', placeDeg: 25 });
    await edit({
      kind: 'setClean',
      takeId: 'take-4',
      clean: { on: false, character: 'even', rule: 'lsa', fine: null },
    });
    await edit({ kind: 'setTarget', targetLufs: -17, ceilingDbtp: -2 });
    await desk.idle();
    await desk.call('render', { folder: null, wave: 'float32', copy: null, stems: true });
    await desk.idle();
    const view = desk.host.view()!;
    folder = view.folder;
    decided = view.session;
    rendered = readFileSync(join(view.render!.folder, 'mix.wav'));
    expect((await faultOf(mixed(folder))).code).toBe('session-open');
    await desk.host.close();
  }, 120_000);
  afterAll(() => desk.host.close());

  it('gives the mix that the desk renders, to the bit, and decides nothing anew', async () => {
    const { report, folder: made } = await mixed(folder);
    expect(made).toBe(folder);
    expect(readFileSync(join(folder, 'mix.wav')).equals(rendered)).toBe(true);
    expect(sessionIn(folder)).toEqual(decided);
    expect(report.mix).toMatchObject({ targetLufs: -17, ceilingDbtp: -2 });
    expect(report.takes[0]!.notes.join(' ')).toMatch(/It is made of passages.*horn t2: Mended/);
  });

  it('leaves everything as it was where it is stopped', async () => {
    const before = readFileSync(join(folder, 'session.json'), 'utf8');
    const stop = new AbortController();
    const onStep = (step: string) => {
      if (step.startsWith('Laying')) stop.abort();
      return () => undefined;
    };
    const added = mixed(folder, { clips: [clip('viola.wav', 4, 0.05)], signal: stop.signal, onStep });
    expect(await faultOf(added)).toBeInstanceOf(CancelledError);
    expect(readFileSync(join(folder, 'session.json'), 'utf8')).toBe(before);
    expect(readFileSync(join(folder, 'mix.wav')).equals(rendered)).toBe(true);
  });

  it('adds clips as takes of the voice their name tells, or of a new one; what sounded sounds on, and one is no news', async () => {
    const files = [clip('flute (2).wav', 2, 0.2), clip('viola.wav', 4, 0.05), clip('horn t1.wav', 1, 0)];
    const { report } = await mixed(folder, { clips: files, targetLufs: -16, lead: 'viola' });
    const after = sessionIn(folder);
    expect(after.voices.map(({ name, role }) => [name, role])).toEqual([
      ['horn', 'inner'],
      ['flute', 'inner'],
      ['bass', 'bass'],
      ['viola', 'lead'],
    ]);
    expect(after.takes.slice(0, 4)).toEqual(decided.takes);
    expect(after.takes.slice(4).map(({ name, voiceId }) => [name, voiceId])).toEqual([
      ['flute (2)', 'voice-2'],
      ['viola', 'voice-4'],
    ]);
    expect(after.takes.every(({ placement }) => placement !== null)).toBe(true);
    expect(after.voices[0]!.passages).toEqual(decided.voices[0]!.passages);
    expect(report.takes.map(({ name }) => name)).toEqual(['horn t1', 'flute', 'bass', 'viola']);
    expect(report.mix.targetLufs).toBe(-16);
    expect(report.notes.join(' ')).toContain(
      'horn t1.wav is in the session already, as "horn t1"; a clip is used once.',
    );
    // Each thing that was said is a step that can be taken back.
    const reopened = await openDesk(folder);
    expect([reopened.undo(), reopened.undo(), reopened.undo()]).toEqual([true, true, true]);
    expect(reopened.session).toEqual(decided);
    await reopened.close();
  });

  it('says in one sentence which clip is away, and how many more', async () => {
    renameSync(join(clips, 'horn t2.wav'), join(clips, 'elsewhere.wav'));
    renameSync(join(clips, 'bass.wav'), join(clips, 'far away.wav'));
    const fault = await faultOf(mixed(folder));
    expect(fault.code).toBe('file-missing');
    expect(fault.message).toMatch(/horn t2\.wav.* 1 more is not there either\.$/);
    expect(fault.nextStep).toContain('--find FOLDER');
  });

  it('refuses a session of a newer Partsong, a folder without one, and the folder of another', async () => {
    const other = freshFolder();
    expect((await faultOf(mixed(other))).code).toBe('file-missing');
    writeFileSync(join(other, 'session.json'), JSON.stringify({ ...decided, version: 99 }));
    expect((await faultOf(mixed(other))).code).toBe('session-newer');
    expect((await faultOf(mixed(folder, { outFolder: other }))).code).toBe('target-exists');
  });
});
