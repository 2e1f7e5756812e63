import { describe, expect, it } from 'vitest';
import { draftOf, wantedParts, withEdge, withUsed } from '../../../../renderer/steps/takes/part-bounds.ts';

const FOUND = {
  parts: [
    { fromSec: 0, toSec: 30, beginsSec: 4, by: 'clap' as const, isBrokenOff: false },
    { fromSec: 30, toSec: 33, beginsSec: 31, by: 'music' as const, isBrokenOff: true },
    { fromSec: 33, toSec: 70, beginsSec: 37, by: 'clap' as const, isBrokenOff: false },
  ],
  outline: [],
};

describe('the bounds of several takes in a clip', () => {
  it('move as far as 2 s before and behind their neighbours, to a hundredth of a second', () => {
    const draft = draftOf(FOUND);
    expect(withEdge(draft, 1, 28.4567, 70).edgesSec[1]).toBe(28.46);
    expect(withEdge(draft, 1, 50, 70).edgesSec[1]).toBe(31);
    expect(withEdge(draft, 1, -5, 70).edgesSec[1]).toBe(2);
    expect(withEdge(draft, 0, -5, 70).edgesSec[0]).toBe(0);
    expect(withEdge(draft, 3, 90, 70).edgesSec[3]).toBe(70);
  });

  it('leave out what is not wanted, and tell what was broken off', () => {
    const draft = withUsed(draftOf(FOUND), 0, false);
    expect(wantedParts(draft)).toEqual([
      { fromSec: 30, toSec: 33, isBrokenOff: true },
      { fromSec: 33, toSec: 70, isBrokenOff: false },
    ]);
  });
});
