import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join, resolve } from 'node:path';
import installer from '@ffmpeg-installer/ffmpeg';
import { beforeAll, describe, expect, it } from 'vitest';
import type { SessionTruth, TakeTruth } from '../../samples/truth.ts';

const folder = resolve(import.meta.dirname, '../../samples/evening-canon');
const truth = JSON.parse(readFileSync(join(folder, 'truth.json'), 'utf8')) as SessionTruth;

/** One channel of a file as the bundled FFmpeg, a build of 2018, decodes it. */
function decode(file: string, rateHz: number, channel = 0): Float32Array {
  const args = ['-v', 'error', '-i', join(folder, file), '-vn', '-af', `pan=mono|c0=c${channel}`];
  const done = spawnSync(installer.path, [...args, '-ar', `${rateHz}`, '-f', 'f32le', '-'], { maxBuffer: 1 << 27 });
  expect(done.stderr.toString(), file).toBe('');
  return new Float32Array(new Uint8Array(done.stdout).buffer);
}

function levelDbfs(sound: Float32Array, from: number, to: number): number {
  let sum = 0;
  for (let i = Math.round(from); i < Math.round(to); i++) sum += sound[i]! * sound[i]!;
  return 10 * Math.log10(sum / (to - from) + 1e-20);
}

/** Time of the first sample within 20 ms around `nearSec` that passes a quarter of the peak there. */
function attackSec(sound: Float32Array, rateHz: number, nearSec: number): number {
  const from = Math.round((nearSec - 0.02) * rateHz);
  const around = sound.subarray(from, from + Math.round(0.04 * rateHz)).map(Math.abs);
  const quarter = 0.25 * around.reduce((most, x) => Math.max(most, x), 0);
  return (from + around.findIndex((x) => x > quarter)) / rateHz;
}

/** Clip time of the first bright picture. */
function firstFlashSec(file: string): number {
  const done = spawnSync(
    installer.path,
    ['-i', join(folder, file), '-an', '-vf', 'scale=16:16,showinfo', '-f', 'null', '-'],
    {
      maxBuffer: 1 << 26,
    },
  );
  const pictures = done.stderr.toString().matchAll(/pts_time:\s*(\S+).*?mean:\[(\d+)/g);
  for (const [, sec, mean] of pictures) if (Number(mean) > 200) return Number(sec);
  return Number.NaN;
}

describe('the committed sample session', () => {
  it('is smaller than 3 MB', () => {
    const files = readdirSync(folder, { recursive: true, encoding: 'utf8' }).map((name) =>
      statSync(join(folder, name)),
    );
    const bytes = files.filter((file) => file.isFile()).reduce((sum, file) => sum + file.size, 0);
    expect(bytes).toBeGreaterThan(1e6);
    expect(bytes).toBeLessThan(3e6);
  });

  it('has two .m4a and two .mov, one too loud, one in stereo, one at 44.1 kHz, four kinds of noise', () => {
    const { takes } = truth;
    expect(takes.map((take) => take.file.slice(-4)).sort()).toEqual(['.m4a', '.m4a', '.mov', '.mov']);
    expect(takes.filter((take) => take.clipped)).toHaveLength(1);
    expect(takes.filter((take) => take.channels === 2)).toHaveLength(1);
    expect(takes.filter((take) => take.rateHz === 44100)).toHaveLength(1);
    expect(new Set(takes.map((take) => take.noise.kind)).size).toBe(4);
  });

  describe.each(truth.takes)('$file', (take: TakeTruth) => {
    let sound: Float32Array;
    beforeAll(() => {
      sound = decode(take.file, take.rateHz);
    });

    it('is as long as the truth says, but for one AAC frame of padding (24 ms)', () => {
      const surplusSec = sound.length / take.rateHz - take.lengthSec;
      expect(surplusSec).toBeGreaterThanOrEqual(-0.001);
      expect(surplusSec).toBeLessThan(0.024);
    });

    it('claps within 0.6 ms of the truth (a clap rises for 0.3 ms)', () => {
      expect(Math.abs(attackSec(sound, take.rateHz, take.clapSec) - take.clapSec)).toBeLessThan(0.0006);
    });

    it('places clap and music by one offset and drift', () => {
      const own = (sessionSec: number) => (sessionSec - take.offsetSec) * (1 + take.driftPpm * 1e-6);
      expect(own(take.clapSessionSec)).toBeCloseTo(take.clapSec, 5);
      expect(own(take.notes[0]![0])).toBeCloseTo(take.music[0], 3);
    });

    it('holds in its silence noise at the stated level within 1 dB (3 s of fan noise scatter by some tenths)', () => {
      const [from, to] = take.silence.map((sec) => sec * take.rateHz) as [number, number];
      expect(Math.abs(levelDbfs(sound, from, to) - take.noise.levelDbfs)).toBeLessThan(1);
    });

    it('holds music over the noise by the stated ratio within 1.5 dB', () => {
      const [from, to] = take.music.map((sec) => sec * take.rateHz) as [number, number];
      expect(Math.abs(levelDbfs(sound, from, to) - take.noise.levelDbfs - take.snrDb)).toBeLessThan(1.5);
    });
  });

  it('has the same sound on both channels of the stereo take, to 30 dB (AAC codes each by itself)', () => {
    const take = truth.takes.find((each) => each.channels === 2)!;
    const [left, right] = [decode(take.file, take.rateHz, 0), decode(take.file, take.rateHz, 1)];
    const difference = left.map((x, i) => x - right[i]!);
    const apartDb = levelDbfs(difference, 0, left.length) - levelDbfs(left, 0, left.length);
    expect(apartDb).toBeLessThan(-30);
  });

  it.each(truth.takes.filter((take) => take.picture !== null))('$file flashes in the picture of the clap', (take) => {
    expect(firstFlashSec(take.file)).toBeCloseTo(take.picture!.flashSec, 2);
    expect(Math.abs(take.picture!.flashSec - take.clapSec)).toBeLessThan(0.04);
  });

  it('has a guide that is silent (below -70 dBFS) up to its cue, which sounds within 0.6 ms of the truth', () => {
    const guide = decode(truth.guide.file, 48000);
    const { cueSec, lengthSec } = truth.guide;
    // An AAC frame before the cue may hold a little of it.
    expect(levelDbfs(guide, 0, (cueSec - 0.045) * 48000)).toBeLessThan(-70);
    expect(Math.abs(attackSec(guide, 48000, cueSec) - cueSec)).toBeLessThan(0.0006);
    expect(Math.abs(guide.length / 48000 - lengthSec)).toBeLessThan(0.024);
  });
});
