import { describe, expect, it } from 'vitest';
import { pitchVerdict } from '../../../core/pitch/pitch-verdict.ts';

const HOP_SEC = 0.01;

/** A note of a minute at 220 Hz, which is hollow for a second from each of these times on, s. */
function hollowFrom(...fromSec: number[]): Parameters<typeof pitchVerdict>[0] {
  const frames = Math.round(60 / HOP_SEC);
  const hollow = new Float64Array(frames);
  for (const sec of fromSec) hollow.fill(1, Math.round(sec / HOP_SEC), Math.round((sec + 1) / HOP_SEC));
  const levelsDbfs = new Float64Array(frames).fill(-20);
  return { hz: new Float64Array(frames).fill(220), hollow, levelsDbfs, hopSec: HOP_SEC, firstSec: 0 };
}

describe('the sentence on the pitch of a take', () => {
  it('tells three places at which several notes sound as minutes and seconds, counts the rest, and asks for care once', () => {
    const { kind, sentence } = pitchVerdict(hollowFrom(5, 15, 25, 45));
    expect(kind).toBe('unsure');
    const [, from, to] = /from 0:(\d\d\.\d) to 0:(\d\d\.\d)/.exec(sentence)!;
    expect(Number(from)).toBeCloseTo(5, 0);
    expect(Number(to)).toBeCloseTo(6, 0);
    expect(sentence).toMatch(/ and in one more place\.$/);
    expect(sentence.match(/with care/g)).toHaveLength(1);
    expect(pitchVerdict(hollowFrom(5, 15, 25, 35, 45)).sentence).toMatch(/ and in 2 more places\.$/);
  });

  it('asks for care there only where the rest has one clear pitch', () => {
    const { kind, sentence } = pitchVerdict(hollowFrom(5));
    expect(kind).toBe('pitched');
    expect(sentence).toMatch(/^One clear pitch at a time\. Several notes .* Take its figures there with care\.$/);
    expect(pitchVerdict(hollowFrom()).sentence).toBe('One clear pitch at a time.');
  });
});
