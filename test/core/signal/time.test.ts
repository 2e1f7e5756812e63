import { describe, expect, it } from 'vitest';
import { clockText } from '../../../core/signal/time.ts';

describe('a time for people', () => {
  it('is minutes and seconds of two digits, with as many behind the point as are asked for', () => {
    expect([0, 9.4, 59.6, 3600].map((sec) => clockText(sec))).toEqual(['0:00', '0:09', '1:00', '60:00']);
    expect([0, 9.44, 59.96, 83.4].map((sec) => clockText(sec, 1))).toEqual(['0:00.0', '0:09.4', '1:00.0', '1:23.4']);
    expect(clockText(61.0005, 3)).toBe('1:01.001');
  });

  it('has a true minus sign before what is below 0, and none before what rounds to 0', () => {
    expect([-0.4, -0.04, -75].map((sec) => clockText(sec, 1))).toEqual(['−0:00.4', '0:00.0', '−1:15.0']);
  });
});
