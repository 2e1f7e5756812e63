import { describe, expect, it } from 'vitest';
import { usualThreads } from '../../../app/work/pool.ts';

describe('the workers', () => {
  it('are three at most, whatever the machine, since each costs some 40 MB', () => {
    expect(usualThreads()).toBeGreaterThanOrEqual(1);
    expect(usualThreads()).toBeLessThanOrEqual(3);
  });
});
