import { copyFileSync, mkdirSync, readdirSync, readFileSync, truncateSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { decode } from '../../../../app/media/decode.ts';
import { type Ffmpeg, findFfmpeg } from '../../../../app/media/ffmpeg.ts';
import type { TaskControl } from '../../../../app/work/control.ts';
import { takeIn } from '../../../../app/work/tasks/take-in.ts';
import { CancelledError } from '../../../../core/signal/fault.ts';
import { fold } from '../../../../core/signal/fold.ts';
import { decodeWhole, make, makeFolder, strokes, writeWave } from '../../media/clip-kit.ts';
import { editSound, restampSound } from '../../media/stamp-edits.ts';

const RATE = 48_000;
const SEED = 47;
const GOES_ON: TaskControl = { cancel: { aborted: false }, onProgress: () => undefined, breathe: () => undefined };

describe('a clip that is taken in', () => {
  const folder = makeFolder();
  const at = (name: string): string => `${folder.path}/${name}`;
  let ffmpeg: Ffmpeg;
  const lost = (packets: number) =>
    [
      [100, 1024],
      [1, 1984],
      [packets - 101, 1024],
    ] as const;

  beforeAll(async () => {
    ffmpeg = await findFfmpeg();
    const [one, two] = strokes(6 * RATE + 777, 2, RATE, SEED) as [Float32Array, Float32Array];
    writeWave(at('mono.wav'), [one], RATE);
    writeWave(at('stereo.wav'), [one, two], RATE, 'pcm16');
    const picture = ['-f', 'lavfi', '-i', 'color=s=96x64:r=30:d=6', '-c:v', 'mpeg4', '-c:a', 'aac'];
    for (const args of [
      ['-i', 'mono.wav', '-c:a', 'aac', 'mono.m4a'],
      ['-i', 'mono.wav', '-c:a', 'flac', 'mono.flac'],
      ['-i', 'mono.wav', '-c:a', 'libmp3lame', 'mono.mp3'],
      ['-i', 'stereo.wav', '-c:a', 'aac', 'stereo.m4a'],
      ['-i', 'stereo.wav', '-af', 'pan=3.0|c0=c0|c1=c1|c2=c0', '-c:a', 'pcm_f32le', 'three.wav'],
      ['-i', 'mono.wav', ...picture, 'lost.mp4'],
      ['-i', 'stereo.wav', ...picture, 'lost-stereo.mp4'],
      ['-itsoffset', '0.375', '-i', 'mono.wav', ...picture, 'late.mp4'],
      ['-itsoffset', '0.375', '-i', 'stereo.wav', ...picture, 'late-stereo.mp4'],
    ]) {
      make(ffmpeg, args, folder.path);
    }
    for (const name of ['lost.mp4', 'lost-stereo.mp4']) restampSound(at(name), lost);
    copyFileSync(at('mono.m4a'), at('cut.m4a'));
    editSound(at('cut.m4a'), [
      [4000, 1024],
      [1500, 1024 + 4 * RATE + 9000],
    ]);
  });
  afterAll(folder.remove);

  for (const [name, isAsWritten] of [
    ['mono.m4a', true],
    ['mono.flac', true],
    ['mono.mp3', undefined],
    ['stereo.m4a', true],
    ['lost.mp4', false],
    ['lost-stereo.mp4', false],
    ['late.mp4', false],
    ['late-stereo.mp4', false],
    ['cut.m4a', false],
    ['stereo.wav', false],
    ['three.wav', false],
  ] as const) {
    it(`${name}: is kept to the last bit as it is decoded, and leaves nothing else behind (seed ${SEED})`, async () => {
      const whole = await decodeWhole(at(name));
      const home = at(`of ${name}`);
      mkdirSync(home);
      const result = await takeIn({ file: at(name), soundPath: `${home}/key.f32` }, GOES_ON);
      const wanted = new Float32Array(whole.report.frames);
      if (whole.channels.length === 1) wanted.set(whole.channels[0]!);
      else fold(whole.channels, result.fold, wanted);
      expect(result.lengthFrames).toBe(wanted.length);
      expect(readFileSync(`${home}/key.f32`).equals(Buffer.from(wanted.buffer))).toBe(true);
      expect(readdirSync(home)).toEqual(['key.f32']);
      // With a file of its own FFmpeg gives the same as through a pipe.
      const scratch = `${home}/scratch`;
      const decoding = decode(at(name), whole.facts, { scratch });
      let frames = 0;
      for await (const block of decoding) {
        for (const [channel, samples] of block.entries()) {
          expect(Buffer.compare(bytesOf(samples), bytesOf(whole.channels[channel]!, frames, samples.length))).toBe(0);
        }
        frames += block[0]!.length;
      }
      expect(frames).toBe(wanted.length);
      expect(decoding.report()).toEqual(whole.report);
      if (isAsWritten !== undefined) expect(decoding.isAsWritten).toBe(isAsWritten);
    });
  }

  it('is whole, and leaves nothing else behind, where another takes in the same clip for the same entry at the same time', async () => {
    const home = at('both');
    mkdirSync(home);
    for (const name of ['mono.m4a', 'stereo.m4a', 'lost.mp4']) {
      const request = { file: at(name), soundPath: `${home}/key.f32`, tracePath: `${home}/key.f32.trace` };
      const alone = await takeIn(request, GOES_ON);
      const wanted = new Map(readdirSync(home).map((file) => [file, readFileSync(`${home}/${file}`)]));
      // The second begins when the first has read its first blocks, or nearly all.
      for (const aheadBlocks of [0, 4]) {
        let begin: () => void = () => undefined;
        const begun = new Promise<void>((resolve) => {
          begin = resolve;
        });
        let blocks = 0;
        const first = takeIn(request, {
          ...GOES_ON,
          breathe: () => {
            if (blocks++ === aheadBlocks) begin();
            return new Promise((resolve) => setTimeout(resolve, 2));
          },
        });
        const second = begun.then(() => takeIn(request, GOES_ON));
        expect(await Promise.all([first, second]), name).toEqual([alone, alone]);
        expect(readdirSync(home).sort(), name).toEqual([...wanted.keys()].sort());
        for (const [file, bytes] of wanted)
          expect(readFileSync(`${home}/${file}`).equals(bytes), `${name}, ${file}`).toBe(true);
      }
    }
  });

  it('of several channels that becomes shorter between its two readings is told to have changed', async () => {
    const home = at('shrinks');
    mkdirSync(home);
    copyFileSync(at('stereo.wav'), at('shrinks.wav'));
    // The second reading goes from 0.7 of the way on.
    const onProgress = (share: number): void => {
      if (share > 0.7) truncateSync(at('shrinks.wav'), 2 * RATE);
    };
    const run = takeIn({ file: at('shrinks.wav'), soundPath: `${home}/key.f32` }, { ...GOES_ON, onProgress });
    await expect(run).rejects.toMatchObject({ code: 'file-unreadable', file: at('shrinks.wav') });
    expect(readdirSync(home)).toEqual([]);
  });

  it('of which the stop flag is raised is left at the next block, and leaves nothing behind', async () => {
    const home = at('stopped');
    mkdirSync(home);
    for (const name of ['mono.m4a', 'stereo.m4a', 'stereo.wav']) {
      const cancel = { aborted: false };
      let blocks = 0;
      const control: TaskControl = {
        ...GOES_ON,
        cancel,
        breathe() {
          cancel.aborted = ++blocks === 3;
          return undefined;
        },
      };
      const run = takeIn({ file: at(name), soundPath: `${home}/key.f32`, tracePath: `${home}/key.trace` }, control);
      await expect(run, name).rejects.toThrow(CancelledError);
      expect(blocks, name).toBe(3);
      expect(readdirSync(home)).toEqual([]);
    }
  });
});

function bytesOf(samples: Float32Array, from = 0, count = samples.length): Buffer {
  return Buffer.from(samples.buffer, samples.byteOffset + 4 * from, 4 * count);
}
