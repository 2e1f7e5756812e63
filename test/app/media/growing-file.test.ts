import { closeSync, openSync, readFileSync, writeSync } from 'node:fs';
import { afterAll, describe, expect, it } from 'vitest';
import { GrowingFile } from '../../../app/media/growing-file.ts';
import { makeFolder } from './clip-kit.ts';

const folder = makeFolder();
afterAll(folder.remove);

describe('a file that is read while it grows', () => {
  it('gives what is there in whole units, and the rest when it has come', async () => {
    const file = new GrowingFile(`${folder.path}/grows`);
    const target = new Uint8Array(64);
    expect(file.read(target, 8)).toBe(0);
    writeSync(
      file.descriptor,
      Uint8Array.from({ length: 21 }, (_, n) => n),
    );
    expect(file.read(target, 8)).toBe(16);
    expect(file.read(target, 8)).toBe(0);
    const told = file.told();
    writeSync(
      file.descriptor,
      Uint8Array.from({ length: 3 }, (_, n) => 21 + n),
    );
    file.tell(true);
    await told;
    expect(file.isWhole).toBe(true);
    expect(file.read(target, 8)).toBe(8);
    expect([...target.subarray(0, 8)]).toEqual([16, 17, 18, 19, 20, 21, 22, 23]);
    file.close();
    file.close();
  });

  it('is another one than that which a writer left behind still writes to under its name', () => {
    const path = `${folder.path}/left behind`;
    const old = openSync(path, 'w');
    writeSync(old, 'old');
    const file = new GrowingFile(path);
    writeSync(old, ' and more');
    writeSync(file.descriptor, 'new');
    expect(readFileSync(path, 'utf8')).toBe('new');
    closeSync(old);
    file.close();
  });
});
