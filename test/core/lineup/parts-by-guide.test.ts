import { describe, expect, it } from 'vitest';
import { partsByGuide } from '../../../core/lineup/parts-by-guide.ts';
import type { FoundPart } from '../../../core/lineup/several-takes.ts';

/** 4 s from the clap to the first beat, a piece of 60 s. */
const guide = { fromClapSec: 64, musicSec: 60 };

const part = (
  [fromSec, toSec]: readonly [number, number],
  beginsSec: number,
  music: readonly [number, number],
  by: FoundPart['by'] = 'music',
): FoundPart => ({ fromSec, toSec, beginsSec, musicSec: music, by, isBrokenOff: false });

describe('the takes of a clip, held against their guide', () => {
  it('are one where a theme returns after a rest within the piece, clapped before or not', () => {
    const returns = part([40, 90], 45, [45, 69]);
    expect(partsByGuide([part([0, 40], 5, [9, 38], 'clap'), returns], guide)).toEqual([]);
    expect(partsByGuide([part([0, 40], 9, [9, 38]), returns], guide)).toEqual([]);
  });

  it('are two takes, the first a rondo, where the whole piece is played again', () => {
    const rondo = [part([0, 40], 5, [9, 38], 'clap'), part([40, 72], 45, [45, 69])] as const;
    const found = partsByGuide([...rondo, part([72, 150], 80, [84, 144], 'clap')], guide);
    expect(found.map(({ fromSec, toSec }) => [fromSec, toSec])).toEqual([
      [0, 72],
      [72, 150],
    ]);
    expect(found[0]!.musicSec).toEqual([9, 69]);
  });

  it('stay two where the first was broken off and the piece begun anew, without a clap too', () => {
    const parts = [part([0, 30], 5, [9, 28], 'clap'), part([30, 110], 36, [36, 96])];
    expect(partsByGuide(parts, guide)).toEqual(parts);
  });

  it('end with the piece where something sounds on after it, but not where they were not played to it', () => {
    const next = part([79, 150], 90, [94, 154], 'clap');
    const [first, second] = partsByGuide([part([0, 79], 5, [9, 77], 'clap'), next], guide);
    expect(first!.toSec).toBeCloseTo(72.5, 6);
    expect(second!.fromSec).toBe(first!.toSec);
    const slow = part([0, 89], 5, [9, 87], 'clap');
    expect(partsByGuide([slow, next], guide)[0]).toBe(slow);
  });
});
