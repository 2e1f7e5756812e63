import { describe, expect, it } from 'vitest';
import { chanceBeyond, sureAt } from '../../../core/pitch/student-t.ts';

describe("Student's t", () => {
  // Two-sided 5 and 1 % points, as every printed table has them (from memory).
  it.each([
    [1, 12.706, 63.657],
    [2, 4.303, 9.925],
    [5, 2.571, 4.032],
    [8, 2.306, 3.355],
    [30, 2.042, 2.75],
  ])('with %i degrees of freedom is passed by chance in 5 %% at %f and in 1 %% at %f', (freedom, five, one) => {
    expect(chanceBeyond(five, freedom)).toBeCloseTo(0.05, 4);
    expect(chanceBeyond(one, freedom)).toBeCloseTo(0.01, 4);
    expect(sureAt(0.05, freedom)).toBeCloseTo(five, 2);
  });

  it('nears a normal distribution, and is never sure of a figure without a degree of freedom', () => {
    expect(sureAt(0.05, 100000)).toBeCloseTo(1.96, 1);
    expect(sureAt(0.05, 0)).toBe(Number.POSITIVE_INFINITY);
    expect(chanceBeyond(0, 7)).toBe(1);
  });
});
