import { chmodSync, existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Ffmpeg, searchFfmpeg, useFfmpeg } from '../../../app/media/ffmpeg.ts';
import { openClip } from '../../../app/media/open-clip.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { decodeWhole, make, makeFolder, strokes, writeWave } from './clip-kit.ts';
import { editSound } from './stamp-edits.ts';

const RATE = 48_000;
const SEED = 31;

describe('a clip that is opened', () => {
  const folder = makeFolder();
  const at = (name: string): string => `${folder.path}/${name}`;
  const builds: Ffmpeg[] = [];

  /** A build that notes each of its starts, so that they can be counted. */
  function counting({ path, version, origin }: Ffmpeg): Ffmpeg {
    const script = at('counting');
    writeFileSync(script, `#!/bin/sh\necho >> '${at('starts')}'\nexec '${path}' "$@"\n`);
    chmodSync(script, 0o755);
    return { path: script, version, origin };
  }

  function starts(): number {
    return existsSync(at('starts')) ? readFileSync(at('starts'), 'utf8').length : 0;
  }

  beforeAll(async () => {
    for (const from of [{}, { PATH: '' }]) {
      const found = (await searchFfmpeg({ ...process.env, ...from })).found;
      if (found !== undefined && builds.every(({ path }) => path !== found.path)) builds.push(found);
    }
    const [first, second] = strokes(6 * RATE, 2, RATE, SEED) as [Float32Array, Float32Array];
    writeWave(at('mono.wav'), [first], RATE);
    writeWave(at('stereo.wav'), [first, second], RATE);
    writeWave(at('short.wav'), [first.subarray(0, 12_000)], RATE);
    const picture = ['-f', 'lavfi', '-i', 'color=s=64x64:d=6', '-c:v', 'libx264', '-c:a', 'aac'];
    for (const args of [
      ['-i', 'mono.wav', '-c:a', 'aac', 'mono.m4a'],
      ['-i', 'stereo.wav', '-c:a', 'aac', '-ar', '44100', 'stereo.m4a'],
      ['-i', 'short.wav', '-c:a', 'aac', 'short.m4a'],
      ['-i', 'mono.wav', '-c:a', 'alac', 'lossless.m4a'],
      ['-i', 'mono.wav', ...picture, 'picture.mp4'],
      ['-i', 'mono.wav', '-c:a', 'flac', 'mono.flac'],
    ]) {
      make(builds[0]!, args, folder.path);
    }
    const told = readFileSync(at('lossless.m4a'));
    // The sample description tells two channels of one.
    told.writeUInt16BE(2, told.indexOf('alac', told.indexOf('stsd')) + 20);
    writeFileSync(at('told-wrong.m4a'), told);
    writeFileSync(at('cut.m4a'), readFileSync(at('mono.m4a')));
    editSound(at('cut.m4a'), [
      [4000, 1024],
      [500, -1],
      [1500, 1024 + 4 * RATE],
    ]);
  });
  afterAll(() => {
    useFfmpeg(undefined);
    folder.remove();
  });

  for (const [name, most] of [
    ['mono.m4a', 1],
    ['stereo.m4a', 1],
    ['short.m4a', 1],
    ['lossless.m4a', 1],
    ['told-wrong.m4a', 2],
    ['cut.m4a', 2],
    ['picture.mp4', 2],
    ['mono.flac', 2],
    ['mono.wav', 0],
  ] as const) {
    it(`gives of ${name} what looking into it and decoding it give, with ${most} starts of FFmpeg (seed ${SEED})`, async () => {
      for (const build of builds) {
        useFfmpeg(build);
        const known = await decodeWhole(at(name));
        useFfmpeg(counting(build));
        rmSync(at('starts'), { force: true });
        const clip = await openClip(at(name));
        // Nobody reads for a while: nothing may be lost when a short clip has been decoded meanwhile.
        await new Promise((resolve) => setTimeout(resolve, 300));
        const got = new Float32Array(known.channels[0]!.length);
        let frames = 0;
        for await (const [samples] of clip.decoding) {
          got.set(samples!, frames);
          frames += samples!.length;
        }
        await clip.close();
        expect(clip.facts).toEqual(known.facts);
        expect(clip.decoding.report()).toEqual(known.report);
        expect(frames).toBe(got.length);
        expect(Buffer.from(got.buffer).equals(Buffer.from(known.channels[0]!.buffer))).toBe(true);
        expect(starts()).toBe(most);
      }
    }, 60_000);
  }

  it('is refused in the same words as by looking into it, where nothing of it can be read', async () => {
    useFfmpeg(builds[0]);
    const bytes = readFileSync(at('lossless.m4a'));
    // A codec that nobody knows.
    bytes.write('xxxx', bytes.indexOf('alac', bytes.indexOf('stsd')), 'latin1');
    writeFileSync(at('unknown.m4a'), bytes);
    const wanted = await decodeWhole(at('unknown.m4a')).catch((error: unknown) => error);
    const got = await openClip(at('unknown.m4a')).catch((error: unknown) => error);
    expect(wanted).toBeInstanceOf(Error);
    expect(got).toEqual(wanted);
  });

  it('is let go of where it is stopped, before or after it is read', async () => {
    useFfmpeg(builds[0]);
    const stopped = new AbortController();
    const opening = openClip(at('mono.m4a'), { signal: stopped.signal });
    stopped.abort();
    await expect(opening).rejects.toBeInstanceOf(CancelledError);
    // One that nobody reads ends with `close`.
    await (await openClip(at('mono.m4a'))).close();
  });
});
