import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { exitCodeOf } from '../../../app/cli/exit-code.ts';
import { findFfmpeg } from '../../../app/media/ffmpeg.ts';
import type { PictureReport } from '../../../app/picture/picture-session.ts';
import type { FaultCode } from '../../../core/signal/fault.ts';
import { make, makeFolder, writeWave } from '../media/clip-kit.ts';
import { makeSession } from '../picture/session-kit.ts';
import { builtCommand, partsong } from './command.ts';

const folder = makeFolder();
const at = (name: string): string => `${folder.path}/${name}`;
const mix = [0, 1].map(() => Float32Array.from({ length: 3 * 48000 }, (_, n) => 0.2 * Math.sin(n / 20)));
const music = { fromSec: 0.5, toSec: 1.5 };
const small = ['--canvas', '320x240', '--speed', 'quick'];

beforeAll(async () => {
  await builtCommand();
  const sound = ['-f', 'lavfi', '-i', 'sine=d=3', '-c:v', 'libx264', '-preset', 'ultrafast', '-c:a', 'aac'];
  mkdirSync(at('clips'));
  make(await findFfmpeg(), ['-f', 'lavfi', '-i', 'testsrc=s=160x120:r=25:d=3', ...sound, 'clips/one.mp4'], folder.path);
  writeWave(at('clips/two.wav'), [mix[0]!], 48000);
  const voices = [
    { name: 'Sopran', clip: at('clips/one.mp4'), offsetSec: 0.1 },
    { name: 'Baß', clip: at('clips/two.wav'), offsetSec: 0 },
  ];
  makeSession(at('piece'), { voices, mix, music });
  makeSession(at('deaf'), { voices: voices.slice(1), mix, music });
  makeSession(at('gone'), { voices: [{ ...voices[0]!, clip: at('clips/away.mp4') }, voices[1]!], mix, music });
  makeSession(at('unmixed'), { voices, mix, music });
  rmSync(at('unmixed/mix.wav'));
});
afterAll(() => folder.remove());

async function refuses(args: readonly string[], code: FaultCode, sentence: RegExp): Promise<void> {
  const before = readdirSync(folder.path).sort();
  const { code: exit, stderr } = await partsong(['picture', ...args], { cwd: folder.path });
  expect(stderr).toMatch(sentence);
  expect(exit).toBe(exitCodeOf(code));
  expect(stderr).not.toContain('Rendering');
  expect(readdirSync(folder.path).sort()).toEqual(before);
}

describe('partsong picture', () => {
  it('makes a video of a mixed session, cut to the music, and says what it came to', async () => {
    const { code, stdout, stderr } = await partsong(['picture', 'piece', '--out', 'piece.mp4', ...small, '--json'], {
      cwd: folder.path,
    });
    expect(stderr).toContain('Rendering 25 pictures');
    expect(code).toBe(0);
    const report = JSON.parse(stdout) as PictureReport;
    expect(report.tiles.map(({ voice, kind }) => [voice, kind])).toEqual([
      ['Sopran', 'clip'],
      ['Baß', 'drawn'],
    ]);
    expect(report.pictures).toBe(25);
    expect(existsSync(at('piece.mp4'))).toBe(true);
  });

  it('prints the FFmpeg command with --plan, and writes nothing', async () => {
    const { code, stdout } = await partsong(['picture', 'piece', '--out', 'planned.mp4', '--plan', ...small], {
      cwd: folder.path,
    });
    expect(code).toBe(0);
    expect(stdout).toMatch(/-filter_complex '\[0:0\]/);
    expect(stdout).toContain('# Baß has no picture here');
    expect(existsSync(at('planned.mp4'))).toBe(false);
  });

  it('writes edit lists that name the clips by where they lie from the list', async () => {
    const otio = await partsong(['picture', 'piece', '--out', 'piece.otio', '--edit-list', 'otio'], {
      cwd: folder.path,
    });
    expect(otio.code).toBe(0);
    const timeline = JSON.parse(readFileSync(at('piece.otio'), 'utf8'));
    const [first, mixed] = timeline.tracks.children;
    expect(first.children[0].media_references.DEFAULT_MEDIA.target_url).toBe('clips/one.mp4');
    expect(mixed.children[0].media_references.DEFAULT_MEDIA.target_url).toBe('piece/mix.wav');
    const edl = await partsong(['picture', 'piece', '--out', 'piece.edl', '--edit-list', 'edl'], { cwd: folder.path });
    expect(edl.code).toBe(0);
    // The music begins at 0.5 s of the session, 0.4 s into the clip that lies at 0.1 s: picture 10 of 25.
    expect(readFileSync(at('piece.edl'), 'utf8')).toContain(
      '001  ONE      V     C        00:00:00:10 00:00:01:10 01:00:00:00 01:00:01:00',
    );
  });

  it('refuses, before it renders, what cannot be rendered, each with its own exit code', async () => {
    const out = ['--out', 'no.mp4'];
    await refuses(['gone', ...out], 'file-missing', /away\.mp4 is not there.*clips/);
    await refuses(['deaf', ...out], 'no-picture', /None of the clips has a picture/);
    await refuses(['unmixed', ...out], 'file-missing', /has no mix yet/);
    await refuses(['piece', ...out, '--canvas', '641x360'], 'bad-option', /even/);
    await refuses(['piece', ...out, '--fps', '31'], 'bad-option', /picture rate/);
    await refuses(['piece', ...out, '--trim', '50-60'], 'bad-option', /no sound between/);
    await refuses(['piece', ...out, '--trim', 'bars'], 'bad-option', /no guide with bars/);
    await refuses(['piece', ...out, '--lead', 'tuba'], 'bad-option', /The voices are: Sopran, Baß/);
    await refuses(['piece', '--out', 'no.avi'], 'bad-option', /neither MP4 nor Matroska/);
    await refuses(['piece', '--out', 'nowhere/no.mp4'], 'target-unwritable', /nowhere/);
    await refuses(['piece', '--out', 'clips/one.mp4'], 'bad-option', /clips are never written over/);
  });
});
