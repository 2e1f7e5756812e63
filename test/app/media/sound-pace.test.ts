import { expect, test } from 'vitest';
import { findFfmpeg } from '../../../app/media/ffmpeg.ts';
import { probe } from '../../../app/media/probe.ts';
import { type StampRun, soundPace } from '../../../app/media/sound-pace.ts';
import { clipPictureOf } from '../../../app/picture/clip-picture-facts.ts';
import { Random } from '../../../core/signal/random.ts';
import { decodeWhole, make, makeFolder, strokes, writeWave } from './clip-kit.ts';
import { restampSound } from './stamp-edits.ts';

const TOLERANCE_SEC = 0.004;

/** Packets of 1024 frames whose stamps run apart and tremble. */
function packets(lengthSec: number, ppm: number, trembleSec: number, ticksPerSec: number, seed = 3): StampRun[] {
  const random = new Random(seed);
  const stampAt = (n: number): number =>
    Math.round(((n * 1024) / 48_000) * (1 + ppm * 1e-6) * ticksPerSec + trembleSec * ticksPerSec * random.gaussian());
  const stamps = Array.from({ length: Math.round((lengthSec * 48_000) / 1024) + 1 }, (_, n) => stampAt(n));
  return stamps.slice(1).map((stamp, n) => ({ packets: 1, ticks: stamp - stamps[n]! }));
}

test('finds 40 ppm between stamps and samples within 1 ppm after 10 min, though the stamps tremble by 0.5 ms', () => {
  for (const ticksPerSec of [48_000, 90_000, 1_000_000]) {
    const found = soundPace(packets(600, 40, 0.0005, ticksPerSec), ticksPerSec, 48_000, TOLERANCE_SEC)!;
    expect(Math.abs(found.ppm - 40)).toBeLessThan(1);
    expect(Math.abs(found.offSec - 0.024)).toBeLessThan(0.001);
  }
});

test('has nothing to tell of even stamps, of trembling ones, of steps and of other codecs', () => {
  expect(soundPace([{ packets: 28_000, ticks: 1024 }], 48_000, 48_000, TOLERANCE_SEC)).toBeUndefined();
  expect(soundPace(packets(600, 0, 0.0005, 90_000), 90_000, 48_000, TOLERANCE_SEC)).toBeUndefined();
  // Two paces, one after the other, are no line.
  const bent = [...packets(300, 0, 0, 1_000_000), ...packets(300, 400, 0, 1_000_000)];
  expect(soundPace(bent, 1_000_000, 48_000, TOLERANCE_SEC)).toBeUndefined();
  expect(soundPace([{ packets: 28_000, ticks: 160 }], 8000, 8000, TOLERANCE_SEC)).toBeUndefined();
});

test('lost sound is no pace: 20 ms that are missing every minute', () => {
  const runs = Array.from({ length: 10 }, () => [
    { packets: 2812, ticks: 1024 },
    { packets: 1, ticks: 1984 },
  ]).flat();
  expect(soundPace(runs, 48_000, 48_000, TOLERANCE_SEC)).toBeUndefined();
});

test('a clip of 40 s whose stamps run 977 ppm fast tells so, and its picture is shown by it', async () => {
  const folder = makeFolder();
  const ffmpeg = await findFfmpeg();
  writeWave(`${folder.path}/sound.wav`, strokes(48_000 * 40, 1, 48_000, 4), 48_000);
  const picture = ['-f', 'lavfi', '-i', 'color=s=96x64:r=10:d=40'];
  make(ffmpeg, [...picture, '-i', 'sound.wav', '-c:v', 'mpeg4', '-c:a', 'aac', 'clip.mp4'], folder.path);
  const path = `${folder.path}/clip.mp4`;
  expect(clipPictureOf(await probe(path))).not.toHaveProperty('soundPpm');
  restampSound(path, (count) => [[count, 1025]]);
  const { facts, report } = await decodeWhole(path);
  expect(clipPictureOf(facts)?.soundPpm).toBeCloseTo(976.6, 0);
  expect(facts.notes.join(' ')).toContain('977 ppm fast against its samples, 39 ms by its end');
  expect(report.notes).toEqual([]);
  expect(report.gaps).toEqual([]);
  folder.remove();
});

test('a clip whose sound ends 0.5 s before its picture tells so', async () => {
  const folder = makeFolder();
  const ffmpeg = await findFfmpeg();
  writeWave(`${folder.path}/sound.wav`, strokes(48_000 * 2.5, 1, 48_000, 4), 48_000);
  const picture = ['-f', 'lavfi', '-i', 'color=s=96x64:r=10:d=3'];
  make(ffmpeg, [...picture, '-i', 'sound.wav', '-c:v', 'mpeg4', '-c:a', 'aac', 'clip.mp4'], folder.path);
  expect((await probe(`${folder.path}/clip.mp4`)).notes).toEqual(['Its sound ends 0.50 s before its picture.']);
  folder.remove();
});
