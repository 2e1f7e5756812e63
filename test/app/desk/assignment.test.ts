import { describe, expect, it } from 'vitest';
import { assignClips, namedVoice } from '../../../app/desk/assignment.ts';

const said = (voices: ReturnType<typeof assignClips>): string[] =>
  voices.map(({ name, clips }) => `${name}: ${clips.join(' ')}`);

describe('giving clips to voices', () => {
  it('by name puts clips together that differ only in the count of the attempt', () => {
    const clips = ['horn t1.mov', 'flute.mov', 'horn (2).mov'];
    expect(said(assignClips(clips, { by: 'name' }))).toEqual(['horn: horn t1.mov horn (2).mov', 'flute: flute.mov']);
  });

  it('by name calls a voice without the count of its attempt, also where it has one clip', () => {
    const clips = ['02_sax_t1.mov', 'horn 2 (1).mov', 'horn 1.mov'];
    expect(assignClips(clips, { by: 'name' }).map(({ name }) => name)).toEqual(['sax', 'horn 2', 'horn 1']);
  });

  it('by clip makes each a voice of its own', () => {
    expect(said(assignClips(['horn t1.mov', 'horn t2.mov'], { by: 'clip' }))).toEqual([
      'horn t1: horn t1.mov',
      'horn t2: horn t2.mov',
    ]);
  });

  it('by order takes so many clips in a row, and refuses what would leave some over', () => {
    const clips = ['1.mov', '2.mov', '3.mov', '4.mov'];
    expect(said(assignClips(clips, { by: 'order', each: 2 }))).toEqual(['1: 1.mov 2.mov', '3: 3.mov 4.mov']);
    expect(() => assignClips(clips, { by: 'order', each: 3 })).toThrow(
      /4 clips cannot be 3 takes of each voice: 1 would/,
    );
  });

  it('by hand comes before every rule, where the first of its clips stands, and each clip is used once', () => {
    const hand = [
      { name: 'Tenor', clips: ['b.mov', 'd.mov'] },
      { name: 'Bass', clips: ['e.mov'] },
    ];
    expect(said(assignClips(['a.mov', './b.mov', 'c.mov', 'd.mov', 'a.mov'], { by: 'clip' }, hand))).toEqual([
      'a: a.mov',
      'Tenor: ./b.mov d.mov',
      'c: c.mov',
      'Bass: e.mov',
    ]);
    const twice = [...hand, { name: 'Alto', clips: ['d.mov'] }];
    expect(() => assignClips([], { by: 'name' }, twice)).toThrow(/d\.mov is given to two voices: Tenor and Alto/);
  });
});

describe('a voice named by hand', () => {
  it('is a name, an equals sign, and clips with commas between; a comma may be part of a file that is there', () => {
    expect(namedVoice('Tenor=a.mov, b.mov', () => false)).toEqual({ name: 'Tenor', clips: ['a.mov', 'b.mov'] });
    expect(namedVoice('Tenor=a, b.mov', (path) => path === 'a, b.mov').clips).toEqual(['a, b.mov']);
    expect(() => namedVoice('a.mov', () => true)).toThrow(/does not say which clips/);
    expect(() => namedVoice('Tenor=', () => false)).toThrow(/does not say which clips/);
  });
});
