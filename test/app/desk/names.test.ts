import { describe, expect, it } from 'vitest';
import { fileNameOf, rolesOf, uniqueNames } from '../../../app/desk/names.ts';

describe('the lead', () => {
  it('is found by a name typed composed where the file system hands it out decomposed, and in any case', () => {
    expect(rolesOf(['Flöte (a.mov)'.normalize('NFD'), 'Horn (b.mov)'], 'flöte')).toEqual(['lead', 'inner']);
  });

  it('is the voice called exactly so when another name holds it, too', () => {
    expect(rolesOf(['alto (alto.m4a)', 'alto 2 (alto 2.m4a)'], 'Alto')).toEqual(['lead', 'inner']);
  });

  it('is asked for again when two names hold it, and when it is empty', () => {
    for (const lead of ['alto', ' ']) {
      expect(() => rolesOf(['alto 1 (a.m4a)', 'alto 2 (b.m4a)'], lead)).toThrow(/not clear/);
    }
  });
});

describe('names of stems', () => {
  it('differ even where only case or Unicode form did', () => {
    const names = uniqueNames(['Flöte', 'flöte', 'Flöte'.normalize('NFD')]);
    expect(new Set(names.map((name) => name.normalize('NFC').toLowerCase())).size).toBe(3);
  });

  it('stay below 255 bytes with their number and ending, without cutting a letter in two', () => {
    const [one, two] = uniqueNames(['🎶'.repeat(63), '🎶'.repeat(63)]);
    for (const name of [one!, two!]) {
      expect(Buffer.byteLength(`${name}.wav`)).toBeLessThanOrEqual(255);
      expect(name).toMatch(/^(🎶)+( \(2\))?$/u);
    }
    expect(two).not.toBe(one);
  });
});

describe('names of files', () => {
  it('hold nothing that leads elsewhere, and on Windows nothing that it refuses', () => {
    expect(fileNameOf('../a\\b/c\u0000d', 'linux')).toBe('__a_b_c_d');
    expect(fileNameOf('Flöte "solo": 1?', 'linux')).toBe('Flöte "solo": 1?');
    expect(fileNameOf('Flöte "solo": 1?', 'win32')).toBe('Flöte _solo__ 1_');
    expect(fileNameOf('...', 'linux')).toBe('_');
    expect(fileNameOf('', 'linux')).toBe('');
  });
});
