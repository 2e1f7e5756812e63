import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Ffmpeg, findFfmpeg } from '../../../app/media/ffmpeg.ts';
import { GapMender } from '../../../app/media/gap-mender.ts';
import type { Block } from '../../../core/signal/block.ts';
import { Random } from '../../../core/signal/random.ts';
import { decodeWhole, lateBySamples, make, makeFolder, strokes, writeWave } from './clip-kit.ts';
import { restampSound, type StampRuns } from './stamp-edits.ts';

const RATE = 48_000;

function tone(lengthSec: number): Float32Array {
  return Float32Array.from({ length: lengthSec * RATE }, (_, n) => {
    const turn = (2 * Math.PI * 311.3 * n) / RATE;
    return 0.2 * (Math.cos(turn) + Math.cos(2 * turn + 1) / 2 + Math.cos(3 * turn + 2) / 3);
  });
}

function levelDb(samples: Float32Array): number {
  return 10 * Math.log10(samples.reduce((sum, value) => sum + value * value, 0) / samples.length);
}

function joined(parts: readonly Float32Array[]): Float32Array {
  const all = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}

function isSame(one: Float32Array, other: Float32Array): boolean {
  return one.length === other.length && one.every((value, n) => value === other[n]);
}

describe('the mender of holes', () => {
  const breaks = [
    { atFrame: 20_000, frames: 960 },
    { atFrame: 22_000, frames: 480 },
    { atFrame: 40_000, frames: 9600 },
    { atFrame: 70_000, frames: 0 },
    { atFrame: 95_500, frames: 500 },
  ];
  const whole = tone(2);
  const holed = whole.slice();
  for (const { atFrame, frames } of breaks) holed.fill(0, atFrame, atFrame + frames);

  function mend(size: (n: number) => number): Float32Array[] {
    const mender = new GapMender(2, RATE);
    const parts: Float32Array[][] = [[], []];
    const keep = (block: Block): void => {
      for (const [channel, samples] of block.entries()) parts[channel]!.push(samples.slice());
    };
    for (let at = 0, n = 0; at < holed.length; n++) {
      const to = Math.min(holed.length, at + size(n));
      const part = holed.subarray(at, to);
      const block = [part, part.map((value) => -0.5 * value)];
      // A break is told of when the block is given in which it begins.
      const told = breaks.filter(({ atFrame }) => atFrame < to);
      for (const given of mender.push(block, told)) keep(given);
      at = to;
    }
    for (const given of mender.finish()) keep(given);
    return parts.map(joined);
  }

  it('gives the same however its sound is cut, in every channel, and passes all else to the bit', () => {
    const [one, two] = mend(() => holed.length) as [Float32Array, Float32Array];
    const random = new Random(5);
    for (const size of [() => 1024, () => 16_384, () => 1 + Math.floor(3000 * random.uniform())]) {
      const [again, andTwo] = mend(size) as [Float32Array, Float32Array];
      expect(isSame(again, one) && isSame(andTwo, two)).toBe(true);
    }
    expect(one.length).toBe(holed.length);
    // Within single precision.
    expect(two.every((value, n) => Math.abs(value + 0.5 * one[n]!) < 2e-4)).toBe(true);
    for (const [from, to] of [
      [0, 20_000],
      [20_960, 22_000],
      [22_480, 40_000],
      [49_600, 70_000],
      [70_240, 95_500],
    ] as const) {
      expect(isSame(one.subarray(from, to), holed.subarray(from, to))).toBe(true);
    }
  });

  it('bridges 20 ms of a tone within 1 dB of its level, and fades into and out of 200 ms', () => {
    const [one] = mend(() => 4096) as [Float32Array];
    expect(Math.abs(levelDb(one.subarray(20_000, 20_960)) - levelDb(one.subarray(18_000, 20_000)))).toBeLessThan(1);
    expect(one.subarray(40_720, 48_880).every((value) => value === 0)).toBe(true);
    let sharpest = 0;
    for (let n = 1; n < 95_400; n++) sharpest = Math.max(sharpest, Math.abs(one[n - 1]! - 2 * one[n]! + one[n + 1]!));
    let usual = 0;
    for (let n = 1; n < 19_000; n++) usual = Math.max(usual, Math.abs(one[n - 1]! - 2 * one[n]! + one[n + 1]!));
    expect(sharpest / usual).toBeLessThan(1.5);
  });
});

describe('clips as a phone writes them that lost sound', () => {
  const folder = makeFolder();
  let ffmpeg: Ffmpeg;
  beforeAll(async () => {
    ffmpeg = await findFfmpeg();
  });
  afterAll(folder.remove);

  function phoneClip(name: string, sound: Float32Array, runs: (packets: number) => StampRuns): string {
    writeWave(`${folder.path}/sound.wav`, [sound], RATE);
    const picture = ['-f', 'lavfi', '-i', `color=s=96x64:r=30:d=${sound.length / RATE}`];
    const codecs = ['-c:v', 'mpeg4', '-c:a', 'aac', '-b:a', '128k'];
    make(ffmpeg, [...picture, '-i', 'sound.wav', ...codecs, name], folder.path);
    restampSound(`${folder.path}/${name}`, runs);
    return `${folder.path}/${name}`;
  }

  for (const [name, packet, atPacket, lostFrames, wanted] of [
    ['lost 20 ms.mp4', 1984, 100, 960, 'lost 20 ms of sound (at 2.13 s); what is around it is drawn over it'],
    ['lost 400 ms.mov', 20_224, 100, 19_200, 'lost 400 ms of sound (at 2.13 s); silence stands there'],
    ['twice 10 ms.mp4', 544, 100, -480, '10 ms of sound that overlapped itself were left out'],
  ] as const) {
    it(`${name}: what follows stays with the picture, to the sample, and the notes tell of it`, async () => {
      const [sound] = strokes(6 * RATE, 1, RATE, 8) as [Float32Array];
      const { report, channels } = await decodeWhole(
        phoneClip(name, sound, (packets) => [
          [atPacket, 1024],
          [1, packet],
          [packets - atPacket - 1, 1024],
        ]),
      );
      const heard = channels[0]!;
      expect(Math.abs(lateBySamples(heard.subarray(0, 2 * RATE), sound.subarray(0, 2 * RATE)))).toBeLessThan(1);
      const [from, to] = [4 * RATE, 5 * RATE];
      const late = lateBySamples(heard.subarray(from, to), sound.subarray(from - lostFrames, to - lostFrames));
      expect(Math.abs(late)).toBeLessThan(1);
      expect(report.notes.join(' ')).toContain(wanted);
    });
  }

  it('a tone over 20 ms that were lost keeps its level within 1 dB', async () => {
    const lost = (packets: number): StampRuns => [
      [100, 1024],
      [1, 1984],
      [packets - 101, 1024],
    ];
    const { channels, report } = await decodeWhole(phoneClip('tone.mp4', tone(4), lost));
    const from = Math.round(report.gaps[0]!.atSec * RATE);
    const usual = levelDb(channels[0]!.subarray(from - 4000, from - 1000));
    for (let at = from - 480; at < from + 960; at += 240) {
      expect(Math.abs(levelDb(channels[0]!.subarray(at, at + 480)) - usual)).toBeLessThan(1.5);
    }
  });
});
