import { mkdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { joinsOf, withStretch } from '../../../../core/session/passages.ts';
import { cleanFolders, freshFolder } from '../../desk/desk-kit.ts';
import { CLIP_RATE_HZ, shortTake } from '../../desk/live/short-clips.ts';
import { decodeWhole, writeWave } from '../../media/clip-kit.ts';
import { floatsOf, type TestDesk, testDesk } from './host-kit.ts';

cleanFolders();

/** Two takes of a horn, the second 0.15 s later and 6 dB softer, and a flute. */
function clips(): string[] {
  const folder = join(freshFolder(), 'clips');
  mkdirSync(folder);
  const write = (name: string, seed: number, late: number, gain: number): string => {
    const path = join(folder, name);
    const samples = shortTake(seed, late).map((value) => value * gain);
    writeWave(path, [samples, samples], CLIP_RATE_HZ);
    return path;
  };
  return [write('horn take 1.wav', 1, 0, 1), write('horn take 2.wav', 1, 0.15, 0.5), write('flute.wav', 2, 0.1, 1)];
}

describe('a voice made of passages', () => {
  let desk: TestDesk;
  const view = () => desk.host.view()!;
  const horn = () => view().blend!.voices.find((voice) => voice.voiceId === 'voice-1')!;
  const edit = (change: Parameters<typeof desk.call<'edit'>>[1]['edit']) =>
    desk.call('edit', { edit: change, mergeKey: null, by: 'page', seq: 1 });
  const stretch = async (sources: string, from: number, frames: number): Promise<Float32Array> =>
    floatsOf(await desk.bytes(`stretch?from=${from}&frames=${frames}&sources=${sources}`));

  beforeAll(async () => {
    desk = testDesk();
    await desk.call('newSession', { title: 'Canon', folder: null });
    await desk.call('addClips', { files: clips(), voiceId: null });
    await desk.idle();
  });
  afterAll(() => desk.host.close());

  it('has joins that snap to the moment before a note or to a rest, within 0.6 s of the wish', async () => {
    const { session } = view();
    expect(session.takes.map((take) => take.voiceId)).toEqual(['voice-1', 'voice-1', 'voice-2']);
    const zero = session.takes[0]!.placement!.offsetSec;
    const points: number[] = [];
    for (const [leftTakeId, rightTakeId, wished] of [
      ['take-1', 'take-2', 6.7],
      ['take-2', 'take-1', 9.2],
    ] as const) {
      const { points: found } = await desk.call('joinPoints', { leftTakeId, rightTakeId, atSec: zero + wished });
      expect(Math.abs(found[0]!.atSec - zero - wished)).toBeLessThan(0.6);
      expect(found[0]!.kind).not.toBe('held');
      // Notes begin every 0.5 s from 5 s on; each dies away 0.02 s before the next.
      const beforeNote = (5.5 - ((found[0]!.atSec - zero) % 0.5)) % 0.5;
      expect(Math.min(beforeNote, 0.5 - beforeNote)).toBeLessThan(0.06);
      points.push(found[0]!.atSec);
    }
    const [fromSec, toSec] = points as [number, number];
    const passages = withStretch(null, 'take-1', { takeId: 'take-2', fromSec, toSec });
    await edit({ kind: 'setPassages', voiceId: 'voice-1', passages });
    await desk.idle();
    expect(horn().joins.map((one) => one.atSec)).toEqual(joinsOf(passages).map((one) => one.atSec));
    expect(horn().takeId).toBe('take-1');
  });

  it('sounds with each take where it is used, 6 dB softer as it is, at one level', async () => {
    const [first, second] = horn().joins;
    const level = (samples: Float32Array): number =>
      10 * Math.log10(samples.reduce((sum, value) => sum + value * value, 0) / samples.length);
    const frames = 48_000;
    const from = Math.round((first!.atSec + 0.5) * 48_000);
    const made = await stretch('voice:voice-1:after', from, frames);
    const alone = await stretch('take-1:after', from, frames);
    expect(Math.abs(level(made) - level(alone))).toBeLessThan(0.5);
    expect(Math.abs(first!.stepDb)).toBeLessThan(0.5);
    const before = Math.round((first!.atSec - 5) * 48_000);
    const outer = Math.round((second!.atSec + 4.1) * 48_000);
    for (const at of [before, outer]) {
      expect(await stretch('voice:voice-1:after', at, 9600)).toEqual(await stretch('take-1:after', at, 9600));
    }
  });

  it('is rendered as it is played, to the bit, with stems as without', async () => {
    await desk.call('render', { folder: null, wave: 'float32', copy: null, stems: true });
    await desk.idle();
    const { render, blend } = view();
    const { channels } = await decodeWhole(join(render!.folder, 'stems', 'horn take 1.wav'));
    const played = await stretch('voice:voice-1:after', 0, Math.min(480_000, blend!.lengthFrames));
    expect(channels[0]!.subarray(0, played.length)).toEqual(played);
    const withStems = readFileSync(join(render!.folder, 'mix.wav'));
    await desk.call('render', { folder: null, wave: 'float32', copy: null, stems: false });
    await desk.idle();
    expect(readFileSync(join(view().render!.folder, 'mix.wav')).equals(withStems)).toBe(true);
    expect(view().render!.current).toBe(true);
    expect(Math.abs(view().render!.integratedLufs! + 14)).toBeLessThanOrEqual(0.1);
  });

  it('goes back to one take by undo, and the render of before is then no longer the newest', async () => {
    await desk.call('undo', {});
    await desk.idle();
    expect(view().session.voices[0]!.passages).toBeNull();
    expect(horn().joins).toEqual([]);
    expect(view().render!.current).toBe(false);
    await desk.call('redo', {});
    await desk.idle();
    expect(horn().joins).toHaveLength(2);
    expect(view().render!.current).toBe(true);
  });

  it('refuses joins of takes that are not there', async () => {
    const fault = await desk.faultOf('joinPoints', { leftTakeId: 'take-1', rightTakeId: 'take-9', atSec: 6 });
    expect(fault.nextStep).not.toBe('');
  });
});
