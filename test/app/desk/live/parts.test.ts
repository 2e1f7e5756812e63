import { copyFileSync, readFileSync, renameSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Edit } from '../../../../core/session/edit.ts';
import { splitEdit } from '../../../../core/session/split-take.ts';
import { takeSecOf } from '../../../../core/signal/clock.ts';
import { writeWave } from '../../media/clip-kit.ts';
import { floatsOf, type TestDesk, testDesk } from '../../shell/host/host-kit.ts';
import { cleanFolders } from '../desk-kit.ts';
import { SEVERAL_RATE_HZ, severalClip, THREE_TAKES, THREE_TAKES_SEC } from './several-clip.ts';

cleanFolders();

const viewOf = (desk: TestDesk) => desk.host.view()!;

async function edit(desk: TestDesk, change: Edit): Promise<void> {
  await desk.call('edit', { edit: change, mergeKey: null, by: 'test', seq: 1 });
  await desk.idle();
}

const soundOf = (desk: TestDesk, takeId: string): Float32Array =>
  floatsOf(readFileSync(desk.host.live!.sounds.soundOf(takeId, 'before')!.soundPath));

/** By bytes: a matcher would take seconds for so many numbers. */
function isSame(one: Float32Array, other: Float32Array): boolean {
  return Buffer.from(one.buffer, one.byteOffset, one.byteLength).equals(
    Buffer.from(other.buffer, other.byteOffset, other.byteLength),
  );
}

describe('a clip of three takes on the desk', () => {
  let desk: TestDesk;
  let file: string;
  let whole: Float32Array;
  beforeAll(async () => {
    desk = testDesk();
    file = join(desk.home, 'horn.wav');
    const samples = severalClip(THREE_TAKES_SEC, THREE_TAKES);
    writeWave(file, [samples, samples], SEVERAL_RATE_HZ);
    await desk.call('newSession', { title: 'Parts', folder: null });
    await desk.call('addClips', { files: [file], voiceId: null });
    await desk.idle();
    whole = soundOf(desk, viewOf(desk).session.takes[0]!.id);
  }, 60_000);
  afterAll(() => desk.host.close());

  it('offers them, found by their claps, and uses the clip as one meanwhile', () => {
    const { session, takes, steps } = viewOf(desk);
    const facts = takes[session.takes[0]!.id]!;
    expect(session.takes).toHaveLength(1);
    expect(facts.several!.parts.map(({ by }) => by)).toEqual(['clap', 'clap', 'clap']);
    for (const [n, { beginsSec }] of facts.several!.parts.entries()) {
      expect(Math.abs(beginsSec - THREE_TAKES[n]!.clapSec!)).toBeLessThan(0.01);
    }
    expect(facts.several!.outline.length).toBeGreaterThan(100);
    expect(steps.takes).toMatchObject({ state: 'lookHere' });
    expect(facts.playable).toBe(true);
  });

  it('makes them takes of their own in one step: each sound is the stretch of the clip, sample by sample, decoded once', async () => {
    const { session, takes } = viewOf(desk);
    const take = session.takes[0]!;
    const { parts } = takes[take.id]!.several!;
    const from = desk.events.length;
    await edit(desk, splitEdit(session, take, parts, ['take-b', 'take-c']));
    const after = viewOf(desk);
    expect(after.session.takes.map(({ name }) => name)).toEqual(['horn, 1', 'horn, 2', 'horn, 3']);
    for (const [n, { id }] of after.session.takes.entries()) {
      const fromFrame = Math.round(parts[n]!.fromSec * SEVERAL_RATE_HZ);
      const toFrame = Math.round(parts[n]!.toSec * SEVERAL_RATE_HZ);
      expect(isSame(soundOf(desk, id), whole.subarray(fromFrame, toFrame))).toBe(true);
      expect(after.takes[id]).toMatchObject({
        state: 'ready',
        several: null,
        clipSec: THREE_TAKES_SEC,
        playable: true,
      });
      expect(after.takes[id]!.clean.state).toBe('ready');
      expect(after.takes[id]!.waves).toEqual({ before: true, after: true });
    }
    expect(after.steps.takes.state).toBe('done');
    const jobs = desk.events.slice(from).flatMap((event) => (event.kind === 'parts' ? (event.parts.jobs ?? []) : []));
    expect(jobs.filter(({ title }) => /horn\.wav/.test(title) && /Read/.test(title))).toEqual([]);
  });

  it('lays them upon one another by their own claps, within 3 ms', () => {
    const { session } = viewOf(desk);
    const claps = session.takes.map((take, n) => {
      const inTake = THREE_TAKES[n]!.clapSec! - take.part!.fromSec;
      return take.placement!.offsetSec + inTake;
    });
    for (const clapSec of claps) expect(Math.abs(clapSec - claps[0]!)).toBeLessThan(0.003);
    expect(session.takes.every(({ placement }) => placement!.question === null)).toBe(true);
  });

  it('listens to the timing and pitch of takes only when asked, and then tells them of each', async () => {
    const ids = viewOf(desk).session.takes.map(({ id }) => id);
    expect(ids.map((id) => viewOf(desk).takes[id]!.played)).toEqual([null, null, null]);
    await desk.call('listenToTakes', {});
    await desk.idle();
    for (const id of ids) {
      const { played } = viewOf(desk).takes[id]!;
      // One player alone, without a guide, has nothing to be early or late against.
      expect(played!.scatterMs).toBeNull();
      expect(played!.spreadCents).toBeLessThan(5);
    }
  });

  it('lets a voice be made of passages of two of them, joined where the music allows it', async () => {
    const { session } = viewOf(desk);
    const [first, second] = session.takes;
    const { offsetSec } = first!.placement!;
    const nearSec = offsetSec + 14 - first!.part!.fromSec;
    const { points } = await desk.call('joinPoints', {
      leftTakeId: first!.id,
      rightTakeId: second!.id,
      atSec: nearSec,
    });
    const atSec = points[0]!.atSec;
    const passages = [
      { takeId: first!.id, fromSec: 0, toSec: atSec },
      { takeId: second!.id, fromSec: atSec, toSec: atSec + 20 },
    ];
    await edit(desk, { kind: 'setPassages', voiceId: first!.voiceId, passages });
    const join = viewOf(desk).blend!.voices[0]!.joins[0]!;
    // The two takes are the same music at the same level.
    expect(Math.abs(join.stepDb ?? 0)).toBeLessThan(0.5);
    expect(desk.host.live!.sounds.laidOf(`voice:${first!.voiceId}`, 'after')).toHaveProperty('parts');
    await edit(desk, { kind: 'setPassages', voiceId: first!.voiceId, passages: null });
  });

  it('finds all of them again when their one clip was moved', async () => {
    const moved = join(desk.home, 'moved.wav');
    renameSync(file, moved);
    const { session } = viewOf(desk);
    const answer = await desk.call('relink', { takeId: session.takes[2]!.id, file: moved, evenIfOther: false });
    await desk.idle();
    expect(answer).toEqual({ relinked: true, isOther: false });
    const paths = viewOf(desk).session.takes.map(({ clip }) => clip.path);
    expect(new Set(paths).size).toBe(1);
    expect(paths[0]).toMatch(/moved\.wav$/);
    copyFileSync(moved, file);
    rmSync(moved);
    expect(await desk.call('searchMissing', { folder: desk.home })).toEqual({ found: 1, missing: 0 });
    await desk.idle();
    expect(Object.values(viewOf(desk).takes).every(({ state }) => state === 'ready')).toBe(true);
  });

  it('is one clip again, to the bit, after undo', async () => {
    while (viewOf(desk).session.takes.length > 1) await desk.call('undo', {});
    await desk.idle();
    const [take] = viewOf(desk).session.takes;
    expect(take).toMatchObject({ name: 'horn', part: null });
    expect(isSame(soundOf(desk, take!.id), whole)).toBe(true);
    await desk.call('redo', {});
    await desk.idle();
    expect(viewOf(desk).session.takes).toHaveLength(3);
  });

  it('asks no more where it is kept as one', async () => {
    await desk.call('undo', {});
    const [take] = viewOf(desk).session.takes;
    const { clipSec } = viewOf(desk).takes[take!.id]!;
    await edit(desk, { kind: 'setPart', takeId: take!.id, part: { fromSec: 0, toSec: clipSec } });
    expect(viewOf(desk).takes[take!.id]).toMatchObject({ several: null, state: 'ready', lengthSec: THREE_TAKES_SEC });
    expect(viewOf(desk).steps.takes.state).toBe('done');
  });
});

describe('a part without a silence of its own', () => {
  it('is cleaned by the silence of its clip, which is said, nearly as far as the clip is, and sounds where it sounded', async () => {
    const desk = testDesk();
    try {
      const file = join(desk.home, 'oboe.wav');
      const samples = severalClip(30, [{ clapSec: null, fromSec: 6, toSec: 27 }]);
      writeWave(file, [samples], SEVERAL_RATE_HZ);
      await desk.call('newSession', { title: 'Parts', folder: null });
      await desk.call('addClips', { files: [file], voiceId: null });
      await desk.idle();
      const [take] = viewOf(desk).session.takes;
      const before = viewOf(desk).takes[take!.id]!;
      const heardAt = takeSecOf(take!.placement!, 10);
      await edit(desk, { kind: 'setPart', takeId: take!.id, part: { fromSec: 6.5, toSec: 26 } });
      const after = viewOf(desk).takes[take!.id]!;
      expect(after.lengthSec).toBeCloseTo(19.5, 6);
      expect(after.clean).toMatchObject({ state: 'ready', silence: { how: 'clip' } });
      expect(after.clean.silence!.fromSec).toBeLessThan(0);
      expect(after.clean.notes.join(' ')).toMatch(/elsewhere in the clip/);
      // The same silence is heard: its level is the same but for the windows that are looked at.
      expect(Math.abs(after.clean.noise!.levelDbfs! - before.clean.noise!.levelDbfs!)).toBeLessThan(0.5);
      expect(after.clean.noise!.reducedDb!).toBeGreaterThan(before.clean.noise!.reducedDb! - 6);
      const placed = viewOf(desk).session.takes[0]!;
      if (placed.placement!.by === 'user') expect(takeSecOf(placed.placement!, 10) + 6.5).toBeCloseTo(heardAt, 9);
    } finally {
      await desk.host.close();
    }
  }, 60_000);
});
