import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Ffmpeg, searchFfmpeg, useFfmpeg } from '../../app/media/ffmpeg.ts';
import { probe } from '../../app/media/probe.ts';
import {
  type Decoded,
  decodeWhole,
  lateBySamples,
  make,
  makeFolder,
  snrDb,
  strokes,
  writeWave,
} from '../app/media/clip-kit.ts';
import { CLIP_FRAMES, CLIP_KINDS, makeKinds, soundOfKind } from '../app/media/clip-matrix.ts';
import { debianFfmpeg } from '../outside-judges.ts';

/**
 * The same clips through two builds of FFmpeg some years apart: the one of 2018 that comes with npm, and Debian's. Source of
 * the traps: check value CV-5.6 (AAC priming and edit lists, measured), CV-10.2 (turning).
 */
const folder = makeFolder();
const builds: Record<'npm' | 'debian', Ffmpeg> = { npm: none(), debian: none() };
beforeAll(async () => {
  const npm = (await searchFfmpeg({ PATH: '' })).found;
  const debian = (await searchFfmpeg({ PARTSONG_FFMPEG: debianFfmpeg })).found;
  if (npm === undefined || debian === undefined) throw new Error('both builds are needed');
  builds.npm = npm;
  builds.debian = debian;
});
afterAll(() => {
  useFfmpeg(undefined);
  folder.remove();
});

function none(): Ffmpeg {
  return { path: '', version: '', origin: 'system' };
}

async function decodeBy(name: keyof typeof builds, file: string): Promise<Decoded> {
  useFfmpeg(builds[name]);
  return decodeWhole(file);
}

for (const maker of ['npm', 'debian'] as const) {
  describe(`clips made by the ${maker} build lie on one time line, whichever build decodes them`, () => {
    beforeAll(() => makeKinds(builds[maker], folder.path));

    for (const kind of CLIP_KINDS) {
      test(kind.name, async () => {
        const original = soundOfKind(kind);
        const file = `${folder.path}/${kind.name}`;
        const byNpm = await decodeBy('npm', file);
        const byDebian = await decodeBy('debian', file);
        const late = lateBySamples(byDebian.channels[0]!, original[0]!);
        expect(Math.abs(late)).toBeLessThan(kind.isExact ? 0.01 : 1);
        if (kind.tellsEnd) expect(byDebian.report.frames).toBe(CLIP_FRAMES);
        expect(byNpm.report.frames).toBe(byDebian.report.frames);
        for (const [n, samples] of byNpm.channels.entries()) {
          // Decoders of one codec may round otherwise; a shift by one sample would leave less than 20 dB.
          expect(snrDb(byDebian.channels[n]!, samples)).toBeGreaterThan(60);
        }
        expect(byNpm.facts.audio).toEqual(byDebian.facts.audio);
      });
    }
  });
}

describe('edit lists (ISO/IEC 14496-12, 8.6.6)', () => {
  /** A late AAC stream whose edit list is then set to the given media time, in samples. */
  function lateClip(name: string, mediaTime: number): Float32Array {
    const [sound] = strokes(60_000, 1, 48000, 23);
    writeWave(`${folder.path}/late.wav`, [sound!], 48000);
    const picture = ['-f', 'lavfi', '-i', 'testsrc=size=96x64:rate=30:duration=1.5'];
    const codecs = [
      '-map',
      '0:v',
      '-map',
      '1:a',
      '-c:v',
      'libx264',
      '-preset',
      'ultrafast',
      '-c:a',
      'aac',
      '-b:a',
      '192k',
    ];
    make(builds.debian, [...picture, '-itsoffset', '0.3', '-i', 'late.wav', ...codecs, name], folder.path);
    const bytes = readFileSync(`${folder.path}/${name}`);
    const list = bytes.lastIndexOf('elst');
    expect(bytes.readUInt32BE(list + 8)).toBe(2);
    expect(bytes.readInt32BE(list + 16)).toBe(-1);
    bytes.writeInt32BE(mediaTime, list + 28);
    // The empty edit is 0.25 s long from here on.
    bytes.writeUInt32BE(250, list + 12);
    writeFileSync(`${folder.path}/${name}`, bytes);
    return sound!;
  }

  for (const build of ['npm', 'debian'] as const) {
    test(`a late stream with 1024 samples of priming starts where its empty edit ends, to 1 sample (${build})`, async () => {
      const sound = lateClip('primed.mp4', 1024);
      const { report, channels } = await decodeBy(build, `${folder.path}/primed.mp4`);
      expect(report.leadSec).toBe(0.25);
      expect(Math.abs(lateBySamples(channels[0]!, sound) - 12_000)).toBeLessThan(1);
    });

    test(`a late stream with 2112 samples of priming likewise (${build})`, async () => {
      const sound = lateClip('primed longer.mp4', 2112);
      const { channels } = await decodeBy(build, `${folder.path}/primed longer.mp4`);
      expect(Math.abs(lateBySamples(channels[0]!, sound) - (12_000 - (2112 - 1024)))).toBeLessThan(1);
    });

    test(`sound that a phone dropped is silence, and the rest stays at its time (${build})`, async () => {
      const [sound] = strokes(96_000, 1, 48000, 29);
      writeWave(`${folder.path}/whole.wav`, [sound!], 48000);
      make(builds.debian, ['-i', 'whole.wav', '-c:a', 'aac', '-b:a', '192k', 'whole.m4a'], folder.path);
      // From packet 20 on everything is 4800 samples later, as if buffers had been lost there.
      const later = 'setts=ts=if(gte(N\\,20)\\,TS+4800\\,TS)';
      make(builds.debian, ['-i', 'whole.m4a', '-c', 'copy', '-bsf:a', later, 'dropped.m4a'], folder.path);
      const { report, channels } = await decodeBy(build, `${folder.path}/dropped.m4a`);
      expect(report.gaps).toEqual([{ atSec: (19 * 1024) / 48000, lengthSec: 0.1 }]);
      expect(report.frames).toBe(96_000 + 4800);
      expect(Math.abs(lateBySamples(channels[0]!.subarray(30_000), sound!.subarray(30_000)) - 4800)).toBeLessThan(1);
    });
  }
});

describe('facts agree with ffprobe', () => {
  function ffprobe(file: string, stream: string, entry: string): string {
    const args = ['-v', 'error', '-select_streams', stream, '-show_entries', entry, '-of', 'csv=p=0', file];
    return spawnSync('ffprobe', args, { encoding: 'utf8' }).stdout.trim();
  }

  for (const turn of [90, 180, 270]) {
    test(`a picture turned by ${turn} degrees (CV-10.2: counter-clockwise is positive)`, async () => {
      const source = [
        '-f',
        'lavfi',
        '-i',
        'testsrc=size=96x64:rate=30:duration=0.3',
        '-f',
        'lavfi',
        '-i',
        'sine=d=0.3',
      ];
      if (!existsSync(`${folder.path}/straight.mov`)) {
        make(builds.debian, [...source, '-c:v', 'libx264', '-c:a', 'aac', 'straight.mov'], folder.path);
      }
      const turned = ['-i', 'straight.mov', '-c', 'copy', '-metadata:s:v', `rotate=${turn}`, `turned ${turn}.mov`];
      make(builds.debian, turned, folder.path);
      const file = `${folder.path}/turned ${turn}.mov`;
      const told = Number(ffprobe(file, 'v:0', 'stream_side_data=rotation'));
      for (const build of ['npm', 'debian'] as const) {
        useFfmpeg(builds[build]);
        const { video } = await probe(file);
        expect(video?.rotationDeg).toBe(told);
        expect(video).toMatchObject({ width: 96, height: 64 });
      }
    });
  }

  test('the start of a late stream', async () => {
    const picture = ['-f', 'lavfi', '-i', 'testsrc=size=96x64:rate=30:duration=1'];
    const codecs = ['-map', '0:v', '-map', '1:a', '-c:v', 'libx264', '-c:a', 'aac'];
    make(
      builds.debian,
      [...picture, '-itsoffset', '0.2', '-f', 'lavfi', '-i', 'sine=d=1', ...codecs, 'start.mov'],
      folder.path,
    );
    const file = `${folder.path}/start.mov`;
    const told = Number(ffprobe(file, 'a:0', 'stream=start_time'));
    // FFmpeg rounds the edit list's start to a sample of 44.1 kHz: half of one is 11 us.
    expect(Math.abs((await probe(file)).chosenAudio.startSec - told)).toBeLessThan(12e-6);
  });
});
