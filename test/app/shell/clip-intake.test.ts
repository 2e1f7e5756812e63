import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { ClipIntake, CutOffError } from '../../../app/shell/clip-intake.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'partsong-intake-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('a clip on its way into the session', () => {
  it('is refused before its first byte when the disk has 99 bytes and it needs 100', async () => {
    const intake = new ClipIntake(async () => 99);
    const body = Readable.from([Buffer.alloc(100)]);
    await expect(intake.take(folder, 'a.m4a', 100, body)).rejects.toMatchObject({ code: 'target-full' });
    expect(body.readableDidRead).toBe(false);
    expect(readdirSync(join(folder, 'clips'))).toEqual([]);
  });

  it('leaves nothing when it comes 1 byte short, or its source fails', async () => {
    const intake = new ClipIntake();
    const short = intake.take(folder, 'a.m4a', 100, Readable.from([Buffer.alloc(99)]));
    await expect(short).rejects.toBeInstanceOf(CutOffError);
    const failing = new Readable({
      read() {
        this.push(Buffer.alloc(10));
        this.destroy(new Error('gone'));
      },
    });
    await expect(intake.take(folder, 'a.m4a', 100, failing)).rejects.toBeInstanceOf(CutOffError);
    expect(readdirSync(join(folder, 'clips'))).toEqual([]);
  });

  it('is kept once when it is brought a second time; another clip of its name gets a name of its own', async () => {
    const intake = new ClipIntake();
    const bring = (bytes: Buffer): Promise<string> => intake.take(folder, 'a.m4a', 100, Readable.from([bytes]));
    const first = await bring(Buffer.alloc(100, 1));
    expect(await bring(Buffer.alloc(100, 2))).toBe(join(folder, 'clips', 'a (2).m4a'));
    expect(await bring(Buffer.alloc(100, 1))).toBe(first);
    expect(await bring(Buffer.alloc(100, 2))).toBe(join(folder, 'clips', 'a (2).m4a'));
    expect(readdirSync(join(folder, 'clips')).sort()).toEqual(['a (2).m4a', 'a.m4a']);
  });

  it('tells a session whose folder is gone as a fault of the target, not of the page', async () => {
    const body = Readable.from([Buffer.alloc(1)]);
    await expect(new ClipIntake().take('/dev/null/session', 'a.m4a', 1, body)).rejects.toMatchObject({
      code: 'target-unwritable',
    });
  });
});
