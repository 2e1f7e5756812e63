import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Ffmpeg, searchFfmpeg, useFfmpeg } from '../../../app/media/ffmpeg.ts';
import { RunSplitter, soundEdits } from '../../../app/media/sound-edits.ts';
import { decodeWhole, lateBySamples, make, makeFolder, strokes, writeWave } from './clip-kit.ts';
import { editSound } from './stamp-edits.ts';

const RATE = 48_000;
/** What an AAC encoder puts before the first sample. */
const PRIMING = 1024;

describe('edit lists that cut sound into pieces', () => {
  const folder = makeFolder();
  const [sound] = strokes(10 * RATE, 1, RATE, 19) as [Float32Array];
  const builds: Ffmpeg[] = [];
  beforeAll(async () => {
    for (const from of [{}, { PATH: '' }]) {
      const found = (await searchFfmpeg({ ...process.env, ...from })).found;
      if (found !== undefined && builds.every(({ path }) => path !== found.path)) builds.push(found);
    }
    writeWave(`${folder.path}/sound.wav`, [sound], RATE);
  });
  afterAll(() => {
    useFfmpeg(undefined);
    folder.remove();
  });

  for (const [name, edits, laterFrames, lengthSec] of [
    [
      'half a second of nothing at 4 s',
      [
        [4000, PRIMING],
        [500, -1],
        [6000, PRIMING + 4 * RATE],
      ],
      24_000,
      10.5,
    ],
    [
      '20 ms of nothing at 4 s',
      [
        [4000, PRIMING],
        [20, -1],
        [6000, PRIMING + 4 * RATE],
      ],
      960,
      10.02,
    ],
    [
      'the second from 4 to 5 s left out',
      [
        [4000, PRIMING],
        [5000, PRIMING + 5 * RATE],
      ],
      -RATE,
      9,
    ],
    [
      'a late beginning and 0.4 s left out',
      [
        [300, -1],
        [2000, PRIMING],
        [7600, PRIMING + 2.4 * RATE],
      ],
      -4800,
      9.9,
    ],
  ] as const) {
    it(`${name}: what follows lies where the list says, to the sample, with every FFmpeg here`, async () => {
      expect(builds.length).toBeGreaterThan(0);
      for (const ffmpeg of builds) {
        useFfmpeg(ffmpeg);
        const picture = ['-f', 'lavfi', '-i', 'color=s=96x64:r=30:d=10'];
        make(
          ffmpeg,
          [...picture, '-i', 'sound.wav', '-c:v', 'mpeg4', '-c:a', 'aac', '-b:a', '160k', 'clip.mp4'],
          folder.path,
        );
        editSound(`${folder.path}/clip.mp4`, edits);
        const { facts, report, channels } = await decodeWhole(`${folder.path}/clip.mp4`);
        const [from, to] = [7 * RATE, 8.5 * RATE];
        const late = lateBySamples(
          channels[0]!.subarray(from, to),
          sound.subarray(from - laterFrames, to - laterFrames),
        );
        expect(Math.abs(late), ffmpeg.path).toBeLessThan(1);
        const start = edits[0][1] < 0 ? 0.3 * RATE : 0;
        const head = channels[0]!.subarray(start, start + 1.5 * RATE);
        expect(Math.abs(lateBySamples(head, sound.subarray(0, 1.5 * RATE))), ffmpeg.path).toBeLessThan(1);
        expect(Math.abs(report.frames / RATE - lengthSec)).toBeLessThan(0.001);
        expect(facts.notes.join(' ')).not.toContain('twice');
      }
    });
  }

  it('tells of sound that is shown twice', async () => {
    useFfmpeg(builds[0]);
    make(builds[0]!, ['-i', 'sound.wav', '-c:a', 'aac', 'twice.m4a'], folder.path);
    editSound(`${folder.path}/twice.m4a`, [
      [4000, PRIMING],
      [7000, PRIMING + 3 * RATE],
    ]);
    expect((await decodeWhole(`${folder.path}/twice.m4a`)).facts.notes.join(' ')).toContain(
      'shows some of its sound twice',
    );
  });

  it('parts runs at the edges of edits, whatever their length', () => {
    const edits = soundEdits(
      [
        { atSec: 0.5, mediaSec: 1, lengthSec: 1 },
        { atSec: 2, mediaSec: 3, lengthSec: 0.5 },
      ],
      1000,
    );
    for (const size of [7, 300, 5000]) {
      const splitter = new RunSplitter(edits);
      const seen = new Map<number, number>();
      for (let at = 0; at < 5000; at += size) {
        let media = at;
        for (const run of splitter.split(at, size)) {
          for (let n = 0; n < run.frames; n++, media++) if (run.isShown) seen.set(media, run.frame! + n);
        }
        expect(media).toBe(at + size);
      }
      expect(seen.size).toBe(1500);
      expect([seen.get(1000), seen.get(1999), seen.get(3000), seen.get(3499)]).toEqual([500, 1499, 2000, 2499]);
    }
  });
});
