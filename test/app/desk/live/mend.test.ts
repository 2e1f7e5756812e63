import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { MixReport, TakeReport } from '../../../../core/session/report.ts';
import type { Mend } from '../../../../core/session/schema.ts';
import { type TestDesk, testDesk } from '../../shell/host/host-kit.ts';
import { cleanFolders, freshFolder } from '../desk-kit.ts';
import { writeShortClips } from './short-clips.ts';

cleanFolders();

const MEND: Mend = { cents: 20, curve: [], nudges: [{ fromSec: 7.47, toSec: 8.98, byMs: 30 }] };
const viewOf = (desk: TestDesk) => desk.host.view()!;

async function setMend(desk: TestDesk, takeId: string, mend: Mend | null): Promise<void> {
  await desk.call('edit', { edit: { kind: 'setMend', takeId, mend }, mergeKey: null, by: 'test', seq: 1 });
  await desk.idle();
}

describe('a take of an open session that is mended', () => {
  let desk: TestDesk;
  let takeId: string;
  const heard = (listen: 'before' | 'after') => {
    const laid = desk.host.live!.sounds.laidOf(takeId, listen);
    if (laid === undefined || 'parts' in laid) throw new Error('no sound');
    return readFileSync(laid.soundPath);
  };
  beforeAll(async () => {
    desk = testDesk();
    const files = writeShortClips(join(freshFolder(), 'clips'), ['horn.wav', 'flute.wav']);
    await desk.call('newSession', { title: 'Canon', folder: null });
    await desk.call('addClips', { files, voiceId: null });
    await desk.idle();
    takeId = viewOf(desk).session.takes[0]!.id;
  });
  afterAll(() => desk.host.close());

  it('is as it was until it is asked for, and so again after undo, to the bit', async () => {
    expect(viewOf(desk).takes[takeId]).toMatchObject({ mended: 'none', mendNotes: [] });
    const [before, after] = [heard('before'), heard('after')];
    await setMend(desk, takeId, MEND);
    expect(viewOf(desk).takes[takeId]).toMatchObject({ mended: 'ready', playable: true });
    expect(viewOf(desk).takes[takeId]!.mendNotes.join(' ')).toMatch(
      /moved by \+20 cents as a whole.*One stretch was moved in time, by up to 30 ms.*alike to/,
    );
    expect(heard('before').equals(before)).toBe(true);
    const mended = heard('after');
    expect(mended).toHaveLength(after.length);
    expect(mended.equals(after)).toBe(false);
    await desk.call('undo', {});
    await desk.idle();
    expect(viewOf(desk).takes[takeId]!.mended).toBe('none');
    expect(heard('after').equals(after)).toBe(true);
  });

  it('is not cleaned again for it, and its waveform and its loudness are those of what is heard', async () => {
    const wave = (): string => desk.host.live!.sounds.waveOf(takeId, 'after')!.path;
    const before = wave();
    const from = desk.events.length;
    await setMend(desk, takeId, { ...MEND, cents: -8 });
    const kinds = desk.events.slice(from).flatMap((event) => (event.kind === 'parts' ? (event.parts.jobs ?? []) : []));
    expect(kinds.some(({ kind }) => kind === 'mend')).toBe(true);
    expect(kinds.some(({ kind }) => kind === 'clean' || kind === 'takeIn')).toBe(false);
    expect(wave()).not.toBe(before);
    expect(existsSync(wave())).toBe(true);
    await setMend(desk, takeId, MEND);
  });

  it('sounds on while it is mended anew, as it did, until the new sound is there', async () => {
    await setMend(desk, takeId, MEND);
    const older = heard('after');
    const from = desk.events.length;
    const change = { kind: 'setMend', takeId, mend: { ...MEND, cents: 31 } } as const;
    await desk.call('edit', { edit: change, mergeKey: null, by: 'test', seq: 1 });
    let olderStill = 0;
    while (viewOf(desk).takes[takeId]!.mended !== 'ready' || olderStill === 0) {
      await new Promise((done) => setTimeout(done, 5));
      const facts = viewOf(desk).takes[takeId]!;
      if (facts.mended !== 'busy') continue;
      expect(facts).toMatchObject({ playable: true, mendNotes: [] });
      expect(viewOf(desk).blend!.voices.map(({ takeId: id }) => id)).toContain(takeId);
      if (olderStill++ === 0) expect(heard('after').equals(older)).toBe(true);
    }
    await desk.idle();
    expect(heard('after').equals(older)).toBe(false);
    // Away for a moment only, in one go with the new sound, which is how a page knows to fetch it.
    const told = desk.events
      .slice(from)
      .flatMap((event) => (event.kind === 'take' && event.takeId === takeId ? (event.facts ?? []) : []));
    const away = told.flatMap((facts, n) => (facts.playable ? [] : [n]));
    expect(away).toHaveLength(1);
    expect(told[away[0]! + 1]).toMatchObject({ playable: true, mended: 'ready' });
    await setMend(desk, takeId, MEND);
  });

  it('sounds on while it is cleaned anew, too, and its figures are told only when the new sound is there', async () => {
    const older = heard('after');
    const { clean } = viewOf(desk).session.takes[0]!;
    const edit = { kind: 'setClean', takeId, clean: { ...clean, character: 'firm' } } as const;
    const from = desk.events.length;
    await desk.call('edit', { edit, mergeKey: null, by: 'test', seq: 1 });
    await desk.idle();
    expect(heard('after').equals(older)).toBe(false);
    const told = desk.events
      .slice(from)
      .flatMap((event) => (event.kind === 'take' && event.takeId === takeId ? (event.facts ?? []) : []));
    const anew = told.filter(({ clean: { state } }) => state === 'waiting' || state === 'working');
    expect(anew.length).toBeGreaterThan(0);
    for (const facts of anew) expect(facts).toMatchObject({ playable: true, waves: { after: true }, mendNotes: [] });
    for (const {
      clean: { noise },
    } of anew)
      expect(noise).toBeNull();
    const away = told.filter(({ playable }) => !playable);
    expect(away).toHaveLength(1);
    await desk.call('undo', {});
    await desk.idle();
    expect(heard('after').equals(older)).toBe(true);
  });

  it('is in the mix, and its report says what was mended and the worst splice', async () => {
    const folder = join(freshFolder(), 'out');
    await desk.call('render', { folder, wave: 'float32', copy: null, stems: true });
    await desk.idle();
    const report = JSON.parse(readFileSync(join(folder, 'report.json'), 'utf8')) as {
      takes: TakeReport[];
      mix: MixReport;
    };
    const [first, second] = report.takes;
    expect(first!.mend).toMatchObject({ ...MEND, landingMs: expect.any(Number), steepestPercent: 4 });
    expect(first!.mend!.worstSplice!.likeness).toBeGreaterThan(0.8);
    expect(first!.notes.join(' ')).toContain('Mended: its pitch was moved by +20 cents as a whole.');
    expect(second!.mend).toBeNull();
    expect(readFileSync(join(folder, 'report.html'), 'utf8')).toContain('moved by +20 cents as a whole');
  });
});
