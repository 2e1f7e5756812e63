import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { searchFfmpeg, useFfmpeg } from '../../../app/media/ffmpeg.ts';
import { writeEditList } from '../../../app/picture/edit-list-file.ts';
import { pictureSession } from '../../../app/picture/picture-session.ts';
import { usualDesign } from '../../../core/picture/picture-design.ts';
import { formatSession, type Session, type Take } from '../../../core/session/schema.ts';
import { debianFfmpeg } from '../../outside-judges.ts';
import { make, makeFolder } from '../media/clip-kit.ts';
import { makeSession } from './session-kit.ts';

/** Two takes in one clip: they begin at these seconds of it; both lie at session time zero, and the voice changes from one to the other. */
const PARTS = [
  { fromSec: 1, toSec: 5 },
  { fromSec: 5.52, toSec: 9.6 },
] as const;
const JOIN_SEC = 2;
const LENGTH_SEC = 4;
const RATE = 25;
/** The clip's brightness tells its second: 20 for the first, 20 more for each. */
const lumaAt = (clipSec: number): number => 20 + 20 * Math.floor(clipSec + 1e-9);

describe('a voice of passages from two takes of one clip', () => {
  const folder = makeFolder();
  const session = join(folder.path, 'session');
  const clip = join(folder.path, 'evening.mp4');

  beforeAll(async () => {
    const ffmpeg = (await searchFfmpeg({ PARTSONG_FFMPEG: debianFfmpeg })).found!;
    useFfmpeg(ffmpeg);
    const picture = `nullsrc=s=320x180:r=${RATE}:d=10,format=yuv420p,geq=lum='20+20*floor(T+0.0001)':cb=128:cr=128`;
    const source = ['-f', 'lavfi', '-i', picture, '-f', 'lavfi', '-i', 'sine=d=10'];
    make(ffmpeg, [...source, '-c:v', 'libx264', '-preset', 'ultrafast', '-qp', '4', '-c:a', 'aac', clip], folder.path);
    const mix = [0, 1].map(() => new Float32Array(LENGTH_SEC * 48000).fill(0.01));
    const music = { fromSec: 0, toSec: LENGTH_SEC };
    const made = makeSession(session, { voices: [{ name: 'Anna', clip, offsetSec: 0 }], mix, music });
    const [whole] = made.takes;
    const takes = PARTS.map((part, n): Take => ({ ...whole!, id: `t${n}`, name: `evening, ${n + 1}`, part }));
    const passages = [
      { takeId: 't0', fromSec: 0, toSec: JOIN_SEC },
      { takeId: 't1', fromSec: JOIN_SEC, toSec: LENGTH_SEC },
    ];
    const changed: Session = { ...made, takes, voices: [{ ...made.voices[0]!, passages }] };
    writeFileSync(join(session, 'session.json'), formatSession(changed));
  });
  afterAll(() => {
    useFfmpeg(undefined);
    folder.remove();
  });

  it('is seen in the video as it is heard: each picture that of its take at that time, to the picture', async () => {
    const target = join(folder.path, 'evening-video.mp4');
    const report = await pictureSession({
      ...{ session, target, trim: { kind: 'all' }, encoder: 'x264', speed: 'quick' },
      design: () => ({ ...usualDesign({ widthPx: 640, heightPx: 360 }), fade: { inSec: 0, outSec: 0 } }),
      signal: new AbortController().signal,
      onStep: () => () => undefined,
    });
    expect(report.pictures).toBe(LENGTH_SEC * RATE);
    const crop = 'crop=160:90,scale=1:1:flags=area,format=gray';
    const { stdout } = spawnSync('ffmpeg', ['-v', 'error', '-i', target, '-vf', crop, '-f', 'rawvideo', '-']);
    expect(stdout).toHaveLength(LENGTH_SEC * RATE);
    // The filter spreads the levels of the coded picture, 16 to 235, over 0 to 255.
    const lumas = [...stdout].map((value) => 16 + (value * 219) / 255);
    const wrong = lumas.flatMap((luma, n) => {
      const sec = (n + 0.5) / RATE;
      const clipSec = sec + (sec < JOIN_SEC ? PARTS[0] : PARTS[1]).fromSec;
      return Math.abs(luma - lumaAt(clipSec)) < 6 ? [] : [`picture ${n}: ${luma.toFixed(0)} for ${lumaAt(clipSec)}`];
    });
    expect(wrong).toEqual([]);
  }, 60_000);

  it('is cut in the edit lists where it is cut in the sound, from both stretches of the one clip', async () => {
    const otio = join(folder.path, 'evening.otio');
    const signal = new AbortController().signal;
    await writeEditList({ session, target: otio, kind: 'otio', trim: { kind: 'all' }, signal });
    const track = JSON.parse(readFileSync(otio, 'utf8')).tracks.children[0];
    const ranges = track.children.map(
      (one: {
        media_references: { DEFAULT_MEDIA: { target_url: string } };
        source_range: Record<'start_time' | 'duration', { value: number; rate: number }>;
      }) => {
        const { start_time: start, duration } = one.source_range;
        const { target_url: file } = one.media_references.DEFAULT_MEDIA;
        return [file, start.value / start.rate, duration.value / duration.rate].map((value) =>
          typeof value === 'number' ? Math.round(100 * value) / 100 : value,
        );
      },
    );
    expect(ranges).toEqual([
      ['evening.mp4', PARTS[0].fromSec, JOIN_SEC],
      ['evening.mp4', PARTS[1].fromSec + JOIN_SEC, LENGTH_SEC - JOIN_SEC],
    ]);
    const edl = join(folder.path, 'evening.edl');
    await writeEditList({ session, target: edl, kind: 'edl', trim: { kind: 'all' }, signal });
    const events = readFileSync(edl, 'utf8')
      .split('\n')
      .filter((line) => /^\d{3} .* V /.test(line))
      .map((line) => line.trim().split(/\s+/).slice(-4));
    expect(events).toEqual([
      ['00:00:01:00', '00:00:03:00', '01:00:00:00', '01:00:02:00'],
      ['00:00:07:13', '00:00:09:13', '01:00:02:00', '01:00:04:00'],
    ]);
  });
});
