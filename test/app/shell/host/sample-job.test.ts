import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { DeskEvent } from '../../../../app/shell/contract/events.ts';
import { TruePeakMeter } from '../../../../core/loudness/true-peak.ts';
import { MixChain } from '../../../../core/mix/mix-chain.ts';
import type { Session } from '../../../../core/session/schema.ts';
import { stripOf } from '../../../../core/session/strip-of.ts';
import { SESSION_RATE_HZ } from '../../../../core/signal/time.ts';
import { cleanFolders } from '../../desk/desk-kit.ts';
import { decodeWhole } from '../../media/clip-kit.ts';
import { floatsOf, type TestDesk, testDesk } from './host-kit.ts';

cleanFolders();

interface Truth {
  readonly takes: readonly { readonly file: string; readonly offsetSec: number }[];
}

const truth = JSON.parse(
  readFileSync(new URL('../../../../samples/evening-canon/truth.json', import.meta.url), 'utf8'),
) as Truth;

const sessionOf = (desk: TestDesk): Session => desk.host.view()!.session;
const mixOf = (folder: string): string => join(folder, 'mix.wav');

async function truePeakOf(path: string): Promise<number> {
  const meter = new TruePeakMeter(1);
  meter.add((await decodeWhole(path)).channels);
  return meter.result().truePeakDbtp;
}

/** What a player plays: the desk's stretches through the chain, with what the view says and nothing else. */
async function played(desk: TestDesk): Promise<[Float32Array, Float32Array]> {
  const { blend, session } = desk.host.view()!;
  const { voices, span, lengthFrames, master } = blend!;
  const chain = new MixChain({
    rateHz: SESSION_RATE_HZ,
    voices: voices.map((one) => stripOf(session.voices.find((voice) => voice.id === one.voiceId)!, one)),
    span,
    masterGainDb: master!.gainDb,
    ceilingDbtp: master!.ceilingDbtp,
  });
  const sources = voices.map((one) => `${one.takeId}:after`).join(',');
  const out: [Float32Array, Float32Array] = [new Float32Array(lengthFrames), new Float32Array(lengthFrames)];
  let at = 0;
  const take = (block: readonly Float32Array[]): void => {
    for (const side of [0, 1] as const) {
      out[side].set(block[side]!.subarray(0, lengthFrames - at), at);
    }
    at += block[0]!.length;
  };
  const frames = 100_000;
  for (let from = 0; from < lengthFrames; from += frames) {
    const count = Math.min(frames, lengthFrames - from);
    const planes = floatsOf(await desk.bytes(`stretch?from=${from}&frames=${count}&sources=${sources}`));
    take(
      chain.process(
        voices.map((_, n) => [planes.subarray(n * count, (n + 1) * count)]),
        from,
      ),
    );
  }
  take(chain.flush());
  return out;
}

async function rendered(desk: TestDesk, input: { copy: 'm4a' | null; stems: boolean; wave: 'float32' | 'pcm16' }) {
  await desk.call('render', { folder: null, ...input });
  await desk.idle();
  return desk.host.view()!.render!;
}

describe('the sample session at work', () => {
  let desk: TestDesk;
  beforeAll(async () => {
    desk = testDesk();
    await desk.call('openSample', {});
    await desk.idle();
  });
  afterAll(() => desk.host.close());

  it('lies within 10 ms of the truth, cleaned, balanced and measured, without having been asked', () => {
    const { session, takes, blend, steps } = desk.host.view()!;
    for (const take of session.takes) {
      const wanted = truth.takes.find(({ file }) => file.endsWith(basename(take.clip.path)))!.offsetSec;
      expect(Math.abs(take.placement!.offsetSec - wanted)).toBeLessThan(0.01);
      const facts = takes[take.id]!;
      expect(facts).toMatchObject({ state: 'ready', playable: true, waves: { before: true, after: true } });
      expect(facts.clean.state).toBe('ready');
      expect(facts.integratedLufs).toBeLessThan(-5);
      expect(facts.music!.toSec).toBeGreaterThan(facts.music!.fromSec + 20);
    }
    expect(blend).toMatchObject({ measuring: false, voices: [{}, {}, {}, {}] });
    expect(blend!.master).not.toBeNull();
    expect(steps).toMatchObject({
      takes: {
        state: 'lookHere',
        sentence:
          '1 Descant recorder is clipped: the recorder cut off the loudest waves. Listen, and mark what serves as good.',
      },
      clean: { state: 'done' },
      // The tenor clapped 30 ms off its notes.
      lineUp: { state: 'lookHere' },
      blend: { state: 'done' },
      render: { state: 'toDo' },
    });
    expect(Object.values(steps).some((step) => step.busy)).toBe(false);
    expect(session.voices.map((voice) => voice.name)).toEqual([
      'Descant recorder',
      'Tenor recorder',
      'Treble viol',
      'Bass viol',
    ]);
    expect(session.voices.map((voice) => voice.role)).toEqual(['inner', 'inner', 'inner', 'bass']);
  });

  it('tells each take when it can be drawn, before any is cleaned', () => {
    const told = desk.events.filter((event) => event.kind === 'take');
    const first = (test: (event: DeskEvent & { kind: 'take' }) => boolean): number => told.findIndex(test);
    const cleaned = first((event) => event.facts?.clean.state === 'ready');
    for (const take of sessionOf(desk).takes) {
      const drawn = first((event) => event.takeId === take.id && event.facts?.waves.before === true);
      expect(drawn).toBeGreaterThanOrEqual(0);
      expect(drawn).toBeLessThan(cleaned);
    }
  });

  it('keeps what was found out of the steps of undo, and finds it again after undo and redo', async () => {
    const before = sessionOf(desk);
    expect(desk.host.view()!.undoLabel).toBe('add 4 clips');
    await desk.call('undo', {});
    expect(sessionOf(desk).takes).toEqual([]);
    await desk.idle();
    await desk.call('redo', {});
    expect(sessionOf(desk)).toEqual(before);
    const count = desk.events.length;
    await desk.idle();
    expect(sessionOf(desk)).toEqual(before);
    expect(desk.events.slice(count).some((event) => event.kind === 'edited' || event.kind === 'replaced')).toBe(false);
  });

  it('renders what is played, to the bit, at the gain that was measured', async () => {
    const render = await rendered(desk, { copy: null, stems: false, wave: 'float32' });
    expect(render.current).toBe(true);
    expect(Math.abs(render.integratedLufs! + 14)).toBeLessThanOrEqual(0.1);
    expect(render.truePeakDbtp!).toBeLessThanOrEqual(-1);
    expect(render.files.map(({ path }) => basename(path))).toEqual(['mix.wav', 'report.html', 'report.json']);
    const file = (await decodeWhole(mixOf(render.folder))).channels;
    const heard = await played(desk);
    for (const side of [0, 1] as const) {
      expect(file[side]!.length).toBe(heard[side].length);
      expect(Buffer.compare(Buffer.from(file[side]!.buffer), Buffer.from(heard[side].buffer))).toBe(0);
    }
  });

  it('renders the same mix with stems as without, and a copy; older files of the render go', async () => {
    const plain = readFileSync(mixOf(desk.host.view()!.render!.folder));
    const render = await rendered(desk, { copy: 'm4a', stems: true, wave: 'float32' });
    expect(readFileSync(mixOf(render.folder)).equals(plain)).toBe(true);
    expect(render.files.map(({ what }) => what)).toEqual([
      'mix',
      ...Array.from({ length: 4 }, () => 'stem'),
      'copy',
      'report',
      'report',
    ]);
    for (const { what, path, truePeakDbtp } of render.files) {
      if (what !== 'stem') expect(truePeakDbtp).toBeUndefined();
      else expect(truePeakDbtp).toBeCloseTo(await truePeakOf(path), 3);
    }
    expect((await desk.bytes('render/mix-upload.m4a')).length).toBe(render.files[5]!.sizeBytes);
    const again = await rendered(desk, { copy: null, stems: false, wave: 'pcm16' });
    expect(again.files).toHaveLength(3);
    expect(existsSync(join(again.folder, 'stems', '1 Descant recorder.wav'))).toBe(false);
  });

  it('says that the render is old once a voice was moved, and that it is current when that is undone', async () => {
    const edit = { kind: 'setTrim', voiceId: 'voice-1', trimDb: 1.5 } as const;
    const { revision } = await desk.call('edit', { edit, mergeKey: 'trim', by: 'page', seq: 7 });
    expect(desk.events.at(-1)).toMatchObject({ kind: 'edited', edit, by: 'page', seq: 7, revision });
    await desk.idle();
    expect(desk.host.view()).toMatchObject({ render: { current: false }, steps: { render: { state: 'toDo' } } });
    await desk.call('undo', {});
    await desk.idle();
    expect(desk.host.view()).toMatchObject({ render: { current: true }, steps: { render: { state: 'done' } } });
  });

  it('moves a take by hand without measuring it or cleaning it anew, and leaves the others in their places', async () => {
    const before = sessionOf(desk);
    const placement = before.takes[1]!.placement!;
    const moved = { ...placement, offsetSec: placement.offsetSec + 10 / SESSION_RATE_HZ, by: 'user' as const };
    const count = desk.events.length;
    const edit = { kind: 'setPlacement', takeId: 'take-2', placement: moved } as const;
    await desk.call('edit', { edit, mergeKey: null, by: 'page', seq: 8 });
    await desk.idle();
    const jobs = desk.events.slice(count).flatMap((event) => (event.kind === 'parts' ? (event.parts.jobs ?? []) : []));
    expect(new Set(jobs.map((job) => job.title))).toEqual(new Set(['Measuring the mix']));
    expect(sessionOf(desk).takes[1]!.placement).toEqual(moved);
    expect([0, 2, 3].map((n) => sessionOf(desk).takes[n]!.placement)).toEqual(
      [0, 2, 3].map((n) => before.takes[n]!.placement),
    );
    await desk.call('undo', {});
    await desk.idle();
    expect(sessionOf(desk)).toEqual(before);
  });

  it('is there as it was when it is opened again, its render too, without any work but looking', async () => {
    const before = desk.host.view()!;
    await desk.call('closeSession', {});
    expect(desk.host.view()).toBeNull();
    const left = readdirSync(before.folder);
    expect(left.filter((name) => name.startsWith('.'))).toEqual([]);
    const count = desk.events.length;
    await desk.call('openSession', { folder: before.folder });
    await desk.idle();
    const { revision: _r, recovered: _m, saved: _s, ...after } = desk.host.view()!;
    const { revision: _o, recovered: _n, saved: _t, ...was } = before;
    expect(after).toEqual(was);
    const jobs = desk.events.slice(count).flatMap((event) => (event.kind === 'parts' ? (event.parts.jobs ?? []) : []));
    expect(jobs).toEqual([]);
    await desk.call('undo', {});
    expect(sessionOf(desk).takes).toEqual([]);
  });
});
