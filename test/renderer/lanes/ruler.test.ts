import { describe, expect, it } from 'vitest';
import { tickStepSec, ticksBetween } from '../../../renderer/lanes/ruler.ts';

describe('the ruler', () => {
  it('takes the smallest round step of at least 84 pixels', () => {
    expect(tickStepSec(600 / 1000, 84)).toBe(60);
    expect(tickStepSec(0.01, 84)).toBe(1);
    expect(tickStepSec(0.0001, 84)).toBe(0.01);
    expect(tickStepSec(1 / 48000 / 40, 84)).toBe(0.00005);
  });

  it('writes minutes and seconds with the digits the step needs, and a true minus before zero', () => {
    const main = (from: number, to: number, secPerPx: number) =>
      ticksBetween(from, to, secPerPx)
        .map((tick) => tick.label)
        .filter((label) => label !== null);
    expect(main(59, 61.5, 0.01)).toEqual(['0:59', '1:00', '1:01']);
    expect(main(-0.2, 0.2, 0.001)).toEqual(['−0:00.2', '−0:00.1', '0:00.0', '0:00.1', '0:00.2']);
  });

  it('divides steps into round parts', () => {
    const small = ticksBetween(0, 60, 0.7).map((tick) => tick.sec);
    expect(small[1]).toBe(10);
  });
});
