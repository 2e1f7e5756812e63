import { spawnSync } from 'node:child_process';
import { existsSync, openSync, readdirSync, readSync, writeFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Ffmpeg, searchFfmpeg, useFfmpeg } from '../../app/media/ffmpeg.ts';
import { type PictureReport, type PictureSessionOptions, pictureSession } from '../../app/picture/picture-session.ts';
import { type PictureDesign, usualDesign } from '../../core/picture/picture-design.ts';
import { CancelledError } from '../../core/signal/fault.ts';
import { Random } from '../../core/signal/random.ts';
import { decodeWhole, make, makeFolder } from '../app/media/clip-kit.ts';
import { makeSession } from '../app/picture/session-kit.ts';
import { debianFfmpeg } from '../outside-judges.ts';

const CANVAS = { widthPx: 480, heightPx: 270 };
const LENGTH_SEC = 3;
/** Where one picture is looked at, at 1 s. */
const SHORT_SEC = 1.5;
/** Clips of that: what lies behind is made for nothing. */
const SHORT_CLIP = ['-t', '3'];

/** Steady noise of two channels, cut off at `ceiling`. */
function noise(level: number, seed: number, ceiling: number): Float32Array[] {
  return [0, 1].map((channel) => {
    const random = new Random(seed + channel);
    const samples = new Float32Array(5 * 48000);
    let low = 0;
    for (let n = 0; n < samples.length; n++) {
      low += 0.2 * (random.gaussian() - low);
      samples[n] = Math.max(-ceiling, Math.min(ceiling, level * low));
    }
    return samples;
  });
}

function ffprobe(file: string, ...args: string[]): string {
  return spawnSync('ffprobe', ['-v', 'error', ...args, '-of', 'json', file], { encoding: 'utf8', maxBuffer: 2 ** 26 })
    .stdout;
}

/** Mean brightness of small parts of a picture of a video, 0 to 255: columns x rows. */
function lights(video: string, atSec: number, columns: number, rows: number): number[] {
  const filter = `scale=${columns}:${rows}:flags=area:in_range=tv:out_range=pc,format=gray`;
  const args = [
    '-v',
    'error',
    '-ss',
    String(atSec),
    '-i',
    video,
    '-frames:v',
    '1',
    '-vf',
    filter,
    '-f',
    'rawvideo',
    '-',
  ];
  return [...spawnSync('ffmpeg', args).stdout];
}

describe('a video for upload', () => {
  const folder = makeFolder();
  const builds = new Map<string, Ffmpeg>();
  let plain: string;

  const render = (session: string, target: string, changes: Partial<PictureSessionOptions> = {}) =>
    pictureSession({
      session,
      target,
      design: () => usualDesign(CANVAS),
      trim: undefined,
      encoder: 'x264',
      speed: 'quick',
      signal: new AbortController().signal,
      onStep: () => () => undefined,
      ...changes,
    });

  /** A session of one clip with quiet noise. */
  const single = (name: string, clip: string, lengthSec = SHORT_SEC): string => {
    const path = `${folder.path}/${name}`;
    const music = { fromSec: 0.5, toSec: 0.5 + lengthSec };
    makeSession(path, { voices: [{ name, clip, offsetSec: 0 }], mix: noise(0.3, 3, 1), music });
    return path;
  };

  const clip = (name: string, source: string, ...output: string[]): string => {
    const sound = ['-f', 'lavfi', '-i', 'sine=d=5'];
    make(builds.get('Debian')!, ['-f', 'lavfi', '-i', source, ...sound, ...output, '-c:a', 'aac', name], folder.path);
    return `${folder.path}/${name}`;
  };

  beforeAll(async () => {
    builds.set('Debian', (await searchFfmpeg({ PARTSONG_FFMPEG: debianFfmpeg })).found!);
    const npm = (await searchFfmpeg({ PATH: '' })).found;
    if (npm !== undefined) builds.set('npm', npm);
    plain = clip('plain.mp4', 'testsrc2=s=320x180:r=30:d=5', '-c:v', 'libx264', '-preset', 'ultrafast');
  });
  afterAll(() => {
    useFfmpeg(undefined);
    folder.remove();
  });

  for (const build of ['Debian', 'npm']) {
    it(`has every property of CV-10.1, and is as loud as the mix within 0.1 LU (${build})`, async () => {
      useFfmpeg(builds.get(build)!);
      const session = `${folder.path}/upload ${build}`;
      // Peaks far below the ceiling, so that nothing is lowered.
      const mix = noise(0.5, 11, 1);
      makeSession(session, {
        voices: [
          { name: 'one', clip: plain, offsetSec: 0.2 },
          { name: 'two', clip: plain, offsetSec: 0 },
        ],
        mix,
        music: { fromSec: 0.5, toSec: 0.5 + LENGTH_SEC },
      });
      const target = `${folder.path}/upload ${build}.mp4`;
      const report = await render(session, target);
      const { streams } = JSON.parse(ffprobe(target, '-show_streams')) as { streams: Record<string, unknown>[] };
      expect(streams[0]).toMatchObject({
        codec_name: 'h264',
        profile: 'High',
        pix_fmt: 'yuv420p',
        color_range: 'tv',
        color_space: 'bt709',
        color_transfer: 'bt709',
        color_primaries: 'bt709',
        field_order: 'progressive',
        width: 480,
        height: 270,
        r_frame_rate: '30/1',
        avg_frame_rate: '30/1',
        start_time: '0.000000',
        nb_frames: String(report.pictures),
      });
      expect(streams[1]).toMatchObject({ codec_name: 'aac', profile: 'LC', sample_rate: '48000', channels: 2 });
      expect(streams[1]!['start_time']).toBe('0.000000');
      // AAC pads its last block; the edit list cuts it off.
      expect(Math.abs(Number(streams[1]!['duration']) - report.lengthSec)).toBeLessThan(1024 / 48000 + 0.001);
      expect(boxesOf(target).filter((box) => box === 'moov' || box === 'mdat')).toEqual(['moov', 'mdat']);
      const keys = keyTimes(target);
      const steps = keys.slice(1).map((time, index) => time - keys[index]!);
      expect(Math.min(...steps)).toBeGreaterThanOrEqual(0.5 - 1e-6);
      expect(Math.max(...steps)).toBeLessThanOrEqual(2);
      const cut = mix.map((channel) => channel.subarray(24000, 24000 + LENGTH_SEC * 48000));
      expect(Math.abs(report.sound.integratedLufs! - loudnessByDebian(cut, folder.path))).toBeLessThan(0.1);
    });

    it(`keeps the ceiling after AAC: lowers a mix whose peaks coding raises, and says so (${build})`, async () => {
      useFfmpeg(builds.get(build)!);
      const session = `${folder.path}/loud ${build}`;
      // Noise cut off hard at -1 dBFS: AAC cannot keep such edges.
      const mix = noise(4, 17, 10 ** (-1.2 / 20));
      makeSession(session, {
        voices: [{ name: 'one', clip: plain, offsetSec: 0 }],
        mix,
        music: { fromSec: 0.5, toSec: 3 },
      });
      const report = await render(session, `${folder.path}/loud ${build}.mp4`);
      expect(report.sound.loweredDb).toBeGreaterThan(0.1);
      // Tolerated 0.1 dB, and what rounding of the report is.
      expect(report.sound.truePeakDbtp!).toBeLessThanOrEqual(-1 + 0.1 + 0.002);
      expect(report.notes.join(' ')).toMatch(/dB lower/);
    });

    for (const [turn, mirrored, corner] of [
      // CV-10.2: the white upper left corner lands at the lower left at +90 and at the upper right at -90.
      [90, false, 'lower left'],
      [270, false, 'upper right'],
      [180, false, 'lower right'],
      [0, true, 'upper right'],
    ] as const) {
      it(`shows a clip turned by ${turn} degrees${mirrored ? ' and mirrored' : ''} upright: white at the ${corner} (${build})`, async () => {
        useFfmpeg(builds.get(build)!);
        const name = `turned ${turn}.mov`;
        if (!existsSync(`${folder.path}/${name}`)) {
          const source = 'color=black:s=320x180:r=30:d=5,drawbox=x=0:y=0:w=80:h=60:t=fill:color=white';
          if (!existsSync(`${folder.path}/straight.mov`)) {
            clip('straight.mov', source, ...SHORT_CLIP, '-c:v', 'libx264', '-preset', 'ultrafast');
          }
          make(
            builds.get('Debian')!,
            ['-i', 'straight.mov', '-c', 'copy', '-metadata:s:v', `rotate=${turn}`, name],
            folder.path,
          );
        }
        const told = JSON.parse(ffprobe(`${folder.path}/${name}`, '-show_entries', 'stream_side_data=rotation')) as {
          streams: { side_data_list?: { rotation: number }[] }[];
        };
        const rotation = told.streams[0]?.side_data_list?.[0]?.rotation ?? 0;
        const expected = mirrored
          ? corner
          : { 90: 'lower left', [-90]: 'upper right', [-180]: 'lower right', 180: 'lower right', 0: corner }[rotation];
        const design: PictureDesign = {
          ...usualDesign(turn % 180 === 0 ? CANVAS : { widthPx: 270, heightPx: 480 }),
          tiles: [{ voiceId: 'v0', mirrored }],
        };
        const target = `${folder.path}/${build} ${turn} ${mirrored}.mp4`;
        await render(single(`session ${build} ${turn} ${mirrored}`, `${folder.path}/${name}`), target, {
          design: () => design,
        });
        const [upperLeft, upperRight, lowerLeft, lowerRight] = corners(target);
        const brightest = Math.max(upperLeft!, upperRight!, lowerLeft!, lowerRight!);
        const names = ['upper left', 'upper right', 'lower left', 'lower right'];
        expect(names[[upperLeft, upperRight, lowerLeft, lowerRight].indexOf(brightest)]).toBe(expected);
        expect(brightest).toBeGreaterThan(120);
      });
    }

    for (const [kind, transfer] of [
      ['HLG', 'arib-std-b67'],
      ['PQ', 'smpte2084'],
    ] as const) {
      it(`maps a ${kind} clip of 10 bits to BT.709 and says so (${build})`, async () => {
        useFfmpeg(builds.get(build)!);
        const tags = `colorprim=bt2020:transfer=${transfer}:colormatrix=bt2020nc:log-level=error`;
        // BT.2408: reference white is at 75 % of HLG and 58 % of PQ; 10 bits from 64 to 940.
        const white = Math.round(64 + 876 * (kind === 'HLG' ? 0.75 : 0.58));
        const source = `color=black:s=320x180:r=30:d=5,format=yuv420p10le,geq=lum='if(lt(X,160),${white},200)':cb=512:cr=512`;
        const file = `${kind}.mov`;
        if (!existsSync(`${folder.path}/${file}`)) {
          clip(
            file,
            source,
            ...SHORT_CLIP,
            '-c:v',
            'libx265',
            '-preset',
            'ultrafast',
            '-tag:v',
            'hvc1',
            '-x265-params',
            tags,
          );
        }
        const target = `${folder.path}/${build} ${kind}.mp4`;
        const report = await render(single(`session ${build} ${kind}`, `${folder.path}/${file}`), target);
        expect(report.notes.join(' ')).toContain(kind);
        const [left, right] = lights(target, 1, 2, 1);
        // White stays light and dark stays dark; Hable's curve takes white to some 60 to 90 % of the signal.
        expect(left!).toBeGreaterThan(130);
        expect(right!).toBeLessThan(90);
        const tagged = JSON.parse(ffprobe(target, '-select_streams', 'v', '-show_streams')) as {
          streams: { color_transfer: string }[];
        };
        expect(tagged.streams[0]!.color_transfer).toBe('bt709');
      });
    }

    it(`makes whole pictures of interlaced ones: no comb is left of a moving edge (${build})`, async () => {
      useFfmpeg(builds.get(build)!);
      const file = 'fields.mov';
      if (!existsSync(`${folder.path}/${file}`)) {
        const edge = "geq=lum='if(between(X,mod(N*8,260),mod(N*8,260)+60),235,16)':cb=128:cr=128";
        const source = `color=black:s=320x240:r=50:d=5,${edge},tinterlace=mode=interleave_top`;
        clip(
          file,
          source,
          ...SHORT_CLIP,
          '-c:v',
          'libx264',
          '-preset',
          'ultrafast',
          '-flags',
          '+ilme+ildct',
          '-x264opts',
          'tff=1',
        );
      }
      const target = `${folder.path}/${build} fields.mp4`;
      const design = usualDesign({ widthPx: 320, heightPx: 240 });
      const bare = { ...design, tiling: { ...design.tiling, gapPx: 0, marginPx: 0 } };
      await render(single(`session ${build} fields`, `${folder.path}/${file}`), target, { design: () => bare });
      const before = combOf(`${folder.path}/${file}`, 1.02);
      const after = combOf(target, 1.02);
      expect(before).toBeGreaterThan(8);
      expect(after).toBeLessThan(before / 5);
    });
  }

  it('writes a master whose sound is the mix, sample by sample at 24 bits', async () => {
    useFfmpeg(builds.get('Debian')!);
    const session = single('master', plain);
    const target = `${folder.path}/master.mkv`;
    const report = await render(session, target);
    const { channels } = await decodeWhole(target);
    const mix = await decodeWhole(`${session}/mix.wav`);
    const from = Math.round(report.fromSec * 48000);
    let worst = 0;
    for (let n = 0; n < channels[0]!.length; n++) {
      worst = Math.max(worst, Math.abs(channels[0]![n]! - mix.channels[0]![from + n]!));
    }
    expect(worst).toBeLessThan(2 ** -23);
    expect(channels[0]!.length).toBe(Math.round((report.pictures / 30) * 48000));
  });

  it('leaves nothing under its name or beside it when it is stopped', async () => {
    useFfmpeg(builds.get('Debian')!);
    const target = `${folder.path}/stopped/video.mp4`;
    const session = single('stopped', plain, LENGTH_SEC);
    const stop = new AbortController();
    const running = render(session, target, { signal: stop.signal, onPicture: () => stop.abort() });
    await expect(running).rejects.toBeInstanceOf(CancelledError);
    expect(readdirSync(`${folder.path}/stopped`).filter((name) => /mp4|partsong-/.test(name))).toEqual([]);
  });

  it('brings a dark clip nearer to a light one where it is asked to', async () => {
    useFfmpeg(builds.get('Debian')!);
    const grey = (level: string) => `color=0x${level}${level}${level}:s=320x180:r=30:d=5`;
    const coded = [...SHORT_CLIP, '-c:v', 'libx264', '-preset', 'ultrafast', '-g', '30'];
    const voices = [
      { name: 'light', clip: clip('light.mp4', grey('a0'), ...coded), offsetSec: 0 },
      { name: 'dark', clip: clip('dark.mp4', grey('60'), ...coded), offsetSec: 0 },
    ];
    makeSession(`${folder.path}/tones`, { voices, mix: noise(0.3, 3, 1), music: { fromSec: 0.5, toSec: 1.5 } });
    const apart: number[] = [];
    for (const matchTones of [false, true]) {
      const target = `${folder.path}/tones ${matchTones}.mp4`;
      const report = await render(`${folder.path}/tones`, target, { matchTones });
      const [left, right] = lights(target, 0.5, 2, 1);
      apart.push(left! - right!);
      expect(report.notes.some((note) => note.includes('stops lighter'))).toBe(matchTones);
    }
    // 70 % of the way to the middle between them.
    expect(apart[1]!).toBeLessThan(0.5 * apart[0]!);
    expect(apart[1]!).toBeGreaterThan(0);
  });

  it('writes a cover of 480 x 270 px', async () => {
    useFfmpeg(builds.get('Debian')!);
    const cover = `${folder.path}/cover.jpg`;
    const report: PictureReport = await render(single('cover', plain), `${folder.path}/cover.mp4`, {
      cover: { target: cover, atSec: undefined },
    });
    expect(report.cover).toBe(cover);
    const { streams } = JSON.parse(ffprobe(cover, '-show_streams')) as { streams: Record<string, unknown>[] };
    expect(streams[0]).toMatchObject({ codec_name: 'mjpeg', width: 480, height: 270 });
  });
});

function corners(video: string): number[] {
  const grid = lights(video, 1, 3, 3);
  return [grid[0]!, grid[2]!, grid[6]!, grid[8]!];
}

/** Names of the outermost boxes of an MP4 file, in their order. */
function boxesOf(file: string): string[] {
  const names: string[] = [];
  const descriptor = openSync(file, 'r');
  const head = Buffer.alloc(8);
  for (let at = 0; readSync(descriptor, head, 0, 8, at) === 8; at += head.readUInt32BE(0)) {
    names.push(head.toString('latin1', 4, 8));
    if (head.readUInt32BE(0) < 8) break;
  }
  return names;
}

function keyTimes(file: string): number[] {
  const text = ffprobe(
    file,
    '-select_streams',
    'v:0',
    '-skip_frame',
    'nokey',
    '-show_entries',
    'frame=pts_time,pict_type',
  );
  const { frames } = JSON.parse(text) as { frames: { pts_time: string; pict_type: string }[] };
  expect(frames.every(({ pict_type }) => pict_type === 'I')).toBe(true);
  return frames.map(({ pts_time }) => Number(pts_time));
}

/** Integrated loudness by FFmpeg's own meter, LUFS. */
function loudnessByDebian(channels: readonly Float32Array[], folder: string): number {
  const path = `${folder}/measured.f32`;
  const both = new Float32Array(channels[0]!.length * 2);
  for (let n = 0; n < channels[0]!.length; n++) both.set([channels[0]![n]!, channels[1]![n]!], n * 2);
  writeFileSync(path, Buffer.from(both.buffer));
  const args = [
    '-hide_banner',
    '-nostats',
    '-f',
    'f32le',
    '-ar',
    '48000',
    '-ac',
    '2',
    '-i',
    path,
    '-af',
    'ebur128',
    '-f',
    'null',
    '-',
  ];
  const said = spawnSync('ffmpeg', args, { encoding: 'utf8' }).stderr;
  return Number(/I:\s+(-?[\d.]+) LUFS\s+Threshold/.exec(said)![1]);
}

/** How much each line of a picture differs from the mean of its neighbours, 0 to 255: large where fields are combed. */
function combOf(video: string, atSec: number): number {
  const args = [
    '-v',
    'error',
    '-ss',
    String(atSec),
    '-i',
    video,
    '-frames:v',
    '1',
    '-vf',
    'crop=320:180:0:30,format=gray',
    '-f',
    'rawvideo',
    '-',
  ];
  const picture = spawnSync('ffmpeg', args).stdout;
  let sum = 0;
  for (let y = 1; y < 179; y++) {
    for (let x = 0; x < 320; x++) {
      const mean = (picture[(y - 1) * 320 + x]! + picture[(y + 1) * 320 + x]!) / 2;
      sum += Math.abs(picture[y * 320 + x]! - mean);
    }
  }
  return sum / (178 * 320);
}
