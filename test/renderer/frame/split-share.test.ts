import { describe, expect, it } from 'vitest';
import { heldShare, shareAfterKey } from '../../../renderer/frame/split-share.ts';

describe('the divider of lanes and bench', () => {
  it('stays between 12 % and 88 %, and at its first place where nothing was kept', () => {
    expect(heldShare(0.01)).toBe(0.12);
    expect(heldShare(0.99)).toBe(0.88);
    expect(heldShare(Number.NaN)).toBe(heldShare(0));
  });

  it('moves with the arrow keys, to its ends with Home and End, and back with Enter', () => {
    expect(shareAfterKey(0.5, 'ArrowUp')).toBeCloseTo(0.46);
    expect(shareAfterKey(0.5, 'ArrowDown')).toBeCloseTo(0.54);
    expect(shareAfterKey(0.5, 'Home')).toBe(0.12);
    expect(shareAfterKey(0.5, 'End')).toBe(0.88);
    expect(shareAfterKey(0.3, 'Enter')).toBe(heldShare(Number.NaN));
    expect(shareAfterKey(0.5, 'a')).toBeNull();
  });
});
