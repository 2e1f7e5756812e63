import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { TakesSheet } from '../../../app/desk/takes-sheet.ts';
import { Random } from '../../../core/signal/random.ts';
import { CLIP_RATE_HZ, shortTake } from '../desk/live/short-clips.ts';
import { writeWave } from '../media/clip-kit.ts';
import { builtCommand, partsong } from './command.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-takes-command-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** A take as it was recorded: louder by `gain`, cut off at `top`. */
function clip(name: string, seed: number, gain: number, top: number): string {
  const path = join(folder, name);
  const samples = shortTake(seed).map((value) => Math.max(-top, Math.min(top, gain * value)));
  writeWave(path, [samples], CLIP_RATE_HZ);
  return path;
}

const clips: string[] = [];
beforeAll(async () => {
  await builtCommand();
  clips.push(clip('horn_t1.wav', 1, 5, 0.6), clip('horn (2).wav', 1, 1, 1), clip('flute.wav', 2, 1, 1));
});

describe('partsong takes', () => {
  it('puts takes of one voice together by name and proposes the one that is not clipped, in plain sentences', async () => {
    const told = await partsong(['takes', ...clips]);
    expect(told.code).toBe(0);
    expect(told.stdout).toMatch(/^horn:$/m);
    expect(told.stdout).toMatch(/Proposed: horn \(2\)\.wav\. .*horn_t1 is clipped in \d+ spots\./);
    expect(told.stdout).toMatch(/> horn \(2\)\.wav: 0:12\.0 long/);
  });

  it('says of a take without a clear pitch that its pitch is not measured, and why', async () => {
    const random = new Random(9);
    const struck = Float32Array.from({ length: 8 * CLIP_RATE_HZ }, (_, n) => {
      const sinceSec = (n / CLIP_RATE_HZ - 3) % 0.5;
      return (0.001 + (n < 3 * CLIP_RATE_HZ ? 0 : 0.2 * Math.exp(-6 * sinceSec))) * random.gaussian();
    });
    writeWave(join(folder, 'cymbal.wav'), [struck], CLIP_RATE_HZ);
    const { stdout } = await partsong(['takes', join(folder, 'cymbal.wav')]);
    expect(stdout).toMatch(/^ {8}It has no clear pitch .*; its pitch is not measured\.$/m);
    expect(stdout).not.toMatch(/spread/);
  });

  it('of takes without a clap says that there is none, and of the mark that no clap confirms its place', async () => {
    const tones = ['low', 'high'].map((name, n) => {
      const path = join(folder, `${name}.wav`);
      const tone = Float32Array.from({ length: 8 * CLIP_RATE_HZ }, (_, at) => {
        const sec = at / CLIP_RATE_HZ;
        return 0.1 * Math.min(1, sec / 2) * Math.sin(2 * Math.PI * (220 + 110 * n) * sec);
      });
      writeWave(path, [tone], CLIP_RATE_HZ);
      return path;
    });
    const { stdout } = await partsong(['takes', '--quick', ...tones]);
    expect(stdout.match(/clap none/g)).toHaveLength(2);
    expect(stdout).toMatch(/low\.wav: .*, placed as the mark; no clap confirms its place$/m);
    expect(stdout).not.toMatch(/0\.0 ms|confidence 0 %/);
  });

  it('gives all figures as JSON', async () => {
    const { stdout } = await partsong(['takes', ...clips, '--json']);
    const { voices } = JSON.parse(stdout) as TakesSheet;
    expect(voices.map(({ voice, takes }) => [voice, takes.length])).toEqual([
      ['horn', 2],
      ['flute', 1],
    ]);
    const [first, second] = voices[0]!.takes;
    expect(first!.clippedSpots).toBeGreaterThan(0);
    expect(second).toMatchObject({ clippedSpots: 0, takesAtSec: [], lengthSec: 12, noPitch: null });
    expect(second!.noiseDbfs).toBeLessThan(-45);
    expect(voices[1]!.best).toBeNull();
  });
});
