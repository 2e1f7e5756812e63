import { describe, expect, it } from 'vitest';
import { type PictureRate, perSecond } from '../../../core/picture/picture-rate.ts';
import { chooseRate, type NamedClip, rateInSentence } from '../../../core/picture/rate-choice.ts';
import { clipPicture } from './clip-kit.ts';

const span = { fromSec: 1, toSec: 61 };
const clip = (name: string, rate: number, offsetSec: number, isUneven = false): NamedClip => ({
  name,
  picture: clipPicture({ rate, isUneven }),
  place: { offsetSec, driftPpm: 0 },
});
const chosen = (clips: readonly NamedClip[], given: PictureRate | null = null) => chooseRate(given, clips, span);

describe('the rate of a canvas', () => {
  it('is that of the fastest clip where all clips are within 10 ms at it', () => {
    expect(chosen([clip('a', 30, 0.0123)])).toMatchObject({ rate: { over: 30, under: 1 }, by: 'clips' });
    // Half a picture apart: each a fourth of one off, 8.3 ms.
    expect(perSecond(chosen([clip('a', 30, 0), clip('b', 30, 0.5 / 30)]).rate)).toBe(30);
    expect(perSecond(chosen([clip('a', 25, 0), clip('b', 25, 0.004)]).rate)).toBe(25);
  });

  it('is 60 for three clips of 30 whose pictures lie a third apart, and says why', () => {
    const choice = chosen([clip('soprano', 30, 0), clip('alto', 30, 1 / 90), clip('tenor', 30, 2 / 90)]);
    expect(choice).toMatchObject({ rate: { over: 60, under: 1 }, by: 'sync' });
    expect(rateInSentence(choice)).toMatch(/^60 pictures\/s, since at 30 the tile of \w+ would be up to 1[1-7] ms off/);
  });

  it('is 50 for clips of 25 a third apart, and 59.94 for those of 29.97', () => {
    expect(perSecond(chosen([0, 1, 2].map((n) => clip(`${n}`, 25, n / 75))).rate)).toBe(50);
    const ntsc = [0, 1, 2].map((n) => clip(`${n}`, 30000 / 1001, n / 90));
    expect(chosen(ntsc).rate).toEqual({ over: 60000, under: 1001 });
  });

  it('is 60 where a clip is uneven or of an unrelated rate, 8.3 ms at most', () => {
    expect(perSecond(chosen([clip('a', 30, 0, true)]).rate)).toBe(60);
    expect(perSecond(chosen([clip('a', 30, 0), clip('b', 24, 0)]).rate)).toBe(60);
  });

  it('stays as it is given, whatever it costs', () => {
    const choice = chosen([clip('a', 30, 0, true)], { over: 24, under: 1 });
    expect(choice).toEqual({ rate: { over: 24, under: 1 }, by: 'hand', instead: null });
    expect(rateInSentence(choice)).toBeUndefined();
  });
});
