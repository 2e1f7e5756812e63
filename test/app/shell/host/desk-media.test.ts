import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { WAVE_LEVEL_FRAMES } from '../../../../app/shell/contract/media.ts';
import { PlacedSound } from '../../../../core/signal/placed-sound.ts';
import { soundOf } from '../../../../core/signal/sound.ts';
import { cleanFolders } from '../../desk/desk-kit.ts';
import { CLIP_RATE_HZ, CLIP_SEC, writeShortClips } from '../../desk/live/short-clips.ts';
import { writeWave } from '../../media/clip-kit.ts';
import { floatsOf, type TestDesk, testDesk } from './host-kit.ts';

cleanFolders();

describe('media of the open session', () => {
  let desk: TestDesk;
  let clips: string[];
  const frames = CLIP_SEC * CLIP_RATE_HZ;
  const sound = async (id: string, listen: string): Promise<Float32Array> =>
    floatsOf(await desk.bytes(`sound/${id}/${listen}`));

  beforeAll(async () => {
    desk = testDesk();
    await desk.call('newSession', { title: 'Media', folder: null });
    clips = writeShortClips(join(desk.home, 'clips'), ['horn.wav', 'flute.wav']);
    // One channel: read where it lies.
    const mono = join(desk.home, 'clips', 'mono.wav');
    writeWave(mono, [new Float32Array(frames).fill(0.25, 1000)], CLIP_RATE_HZ);
    await desk.call('addClips', { files: [...clips, mono], voiceId: null });
    await desk.idle();
  });
  afterAll(() => desk.host.close());

  it('gives each level of a waveform as pairs of lowest and highest, full scale 32767', async () => {
    const samples = await sound('take-1', 'before');
    expect(samples.length).toBe(frames);
    for (const [level, length] of WAVE_LEVEL_FRAMES.entries()) {
      const bytes = await desk.bytes(`wave/take-1/before/${level}`);
      const pairs = new Int16Array(Uint8Array.from(bytes).buffer);
      expect(pairs.length).toBe(2 * Math.ceil(frames / length));
      for (const at of [0, Math.floor(pairs.length / 4), pairs.length / 2 - 1]) {
        const part = samples.subarray(at * length, (at + 1) * length);
        expect(pairs[2 * at]).toBe(Math.round(part.reduce((low, value) => Math.min(low, value), 1) * 32767));
        expect(pairs[2 * at + 1]).toBe(Math.round(part.reduce((high, value) => Math.max(high, value), -1) * 32767));
      }
    }
  });

  it('gives a stretch as the placed sound has it, before and after, with zeros before the take begins', async () => {
    const take = desk.host.view()!.session.takes[1]!;
    const from = -4800;
    const count = 100_000;
    const bytes = await desk.bytes(`stretch?from=${from}&frames=${count}&sources=take-2:before,take-2:after`);
    const planes = floatsOf(bytes);
    for (const [plane, listen] of ['before', 'after'].entries()) {
      const { offsetSec, driftPpm } = take.placement!;
      const placed = new PlacedSound(soundOf(await sound('take-2', listen), CLIP_RATE_HZ), {
        offsetSec,
        driftPpm,
        sessionRateHz: 48000,
      });
      const wanted = new Float32Array(count);
      placed.read(from, wanted);
      expect(planes.subarray(plane * count, (plane + 1) * count)).toEqual(wanted);
    }
  });

  it('gives what was taken away as before less after, to the bit', async () => {
    const count = 50_000;
    const sources = 'take-1:before,take-1:after,take-1:takenAway';
    const planes = floatsOf(await desk.bytes(`stretch?from=200000&frames=${count}&sources=${sources}`));
    const rest = planes.subarray(2 * count);
    for (let n = 0; n < count; n++) {
      if (rest[n] !== Math.fround(planes[n]! - planes[count + n]!)) expect(n).toBe('equal');
    }
    expect(rest.some((value) => value !== 0)).toBe(true);
  });

  it('gives any range of bytes as a part of the whole, of files as of what is computed', async () => {
    for (const route of [
      'sound/take-1/after',
      'sound/take-3/before',
      'stretch?from=0&frames=40000&sources=take-1:before,take-2:after',
    ]) {
      const whole = await desk.bytes(route);
      const media = (await desk.host.media(route))!;
      for (const [from, to] of [
        [0, 1],
        [65_537, 65_540],
        [159_998, 160_003],
        [media.totalBytes - 3, media.totalBytes],
      ] as const) {
        const parts: Uint8Array[] = [];
        for await (const part of media.read(from, to, new AbortController().signal)) parts.push(part);
        expect(Buffer.concat(parts).equals(Buffer.from(whole.subarray(from, to)))).toBe(true);
      }
    }
  });

  it('stops reading when it is told to', async () => {
    const media = (await desk.host.media('stretch?from=0&frames=480000&sources=take-1:before'))!;
    const stop = new AbortController();
    let bytes = 0;
    for await (const part of media.read(0, media.totalBytes, stop.signal)) {
      bytes += part.length;
      stop.abort();
    }
    expect(bytes).toBe(16384 * 4);
  });

  it('draws a spectrogram column by column: a 440 Hz tone of -6 dBFS is brightest in its row', async () => {
    const tone = join(desk.home, 'clips', 'tone.wav');
    const samples = Float32Array.from({ length: 4 * 48000 }, (_, n) => 0.5 * Math.sin((2 * Math.PI * 440 * n) / 48000));
    writeWave(tone, [samples, samples], 48000);
    await desk.call('addClips', { files: [tone], voiceId: null });
    await desk.idle();
    const id = desk.host.view()!.session.takes.at(-1)!.id;
    const rows = 90;
    const picture = await desk.bytes(`spectrogram/${id}/before?from=1&to=3&columns=20&rows=${rows}`);
    expect(picture.length).toBe(20 * rows);
    for (let column = 0; column < 20; column++) {
      const levels = picture.subarray(column * rows, (column + 1) * rows);
      const row = levels.indexOf(Math.max(...levels));
      const hz = 40 * 500 ** ((row + 0.5) / rows);
      expect(Math.abs(Math.log2(hz / 440))).toBeLessThan(0.1);
      // 255 steps over 120 dB; a tone between two bins of the window reads up to 1.4 dB less.
      expect(Math.abs(levels[row]! - 255 * (1 - 6 / 120))).toBeLessThan(4);
    }
    await desk.call('undo', {});
    await desk.idle();
  });

  it('hands out clips byte for byte', async () => {
    expect(readFileSync(clips[0]!).equals(await desk.bytes('clip/take-1'))).toBe(true);
  });

  it('knows nothing else', async () => {
    for (const route of [
      '',
      'wave',
      'wave/take-1/before',
      'wave/take-1/before/3',
      'wave/take-1/before/-1',
      'wave/take-1/takenAway/0',
      'wave/take-9/before/0',
      'wave/guide/before/0',
      'sound/..%2F..%2Fetc/before',
      'sound/take-1/after/x',
      'stretch?from=0&frames=480001&sources=take-1:after',
      'stretch?from=0.5&frames=100&sources=take-1:after',
      'stretch?from=0&frames=100&sources=',
      'stretch?from=0&frames=100&sources=take-1',
      'stretch?from=0&frames=100&sources=take-9:after',
      'stretch?from=0&frames=1e3&sources=take-1:later',
      'spectrogram/take-1/before?from=0&to=0&columns=10&rows=10',
      'spectrogram/take-1/before?from=0&to=1&columns=100000&rows=10',
      'clip/%2Fetc%2Fpasswd',
      'clip/take-9',
      'render/mix.wav',
      'render/..%2Fsession.json',
      'clip/%',
    ]) {
      expect([route, await desk.host.media(route)]).toEqual([route, null]);
    }
  });
});
