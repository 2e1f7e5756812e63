import { describe, expect, it } from 'vitest';
import { bendWords, type CurveSource, offsetCurve, residualWarning } from '../../../core/session/offset-curve.ts';
import {
  bandPath,
  linePath,
  msRange,
  WARN_MS,
  witnessName,
  witnessSign,
} from '../../../core/session/offset-drawing.ts';
import type { TrailPoint } from '../../../core/session/schema.ts';
import { type Clock, sessionSecOf } from '../../../core/signal/clock.ts';

const clock: Clock = {
  offsetSec: -2,
  driftPpm: 50,
  bends: [
    { takeSec: 100, jumpSec: 0.02, driftPpm: 50 },
    { takeSec: 200, jumpSec: 0, driftPpm: 16 },
  ],
};

/** Heard every 10 s; `offSec` later than the clock. */
function heard(offSec: (takeSec: number) => number, uncertaintySec = 0.001): TrailPoint[] {
  return Array.from({ length: 30 }, (_, n) => {
    const takeSec = 5 + 10 * n;
    return {
      kind: 'onsets',
      atSec: sessionSecOf(clock, takeSec) + offSec(takeSec),
      takeSec,
      uncertaintySec,
      accepted: true,
    };
  });
}

const source: CurveSource = { ...clock, residualSec: 0.003, trail: heard(() => 0.002), evidence: [] };

describe('a curve of offset over time', () => {
  it('lies at 0 against the place, each moment where it was heard within 1 microsecond', () => {
    const curve = offsetCurve(source, 300, 'place');
    expect(curve.points).toHaveLength(30);
    for (const one of curve.points) expect(one.offMs).toBeCloseTo(2, 3);
    for (const { fromMs, toMs } of curve.place) expect(Math.max(Math.abs(fromMs), Math.abs(toMs))).toBeLessThan(1e-6);
    expect(curve.residualMs).toBeCloseTo(3, 9);
  });

  it('shows drift as a slope and lost sound as a step against an even clock', () => {
    const { place } = offsetCurve(source, 300, 'even');
    expect(place).toHaveLength(3);
    // 50 ppm fast: after 100 s it lies 5 ms earlier than an even clock would have it; then 20 ms are lost.
    expect(place[0]!.fromMs).toBeCloseTo(0, 9);
    expect(place[0]!.toMs).toBeCloseTo(-5, 2);
    expect(place[1]!.fromMs).toBeCloseTo(15, 2);
    expect(place[2]!.fromMs).toBeCloseTo(place[1]!.toMs, 9);
  });

  it('tells the changes of the clock in words at their moments', () => {
    const { bends } = offsetCurve(source, 300, 'place');
    expect(bends.map((one) => one.words)).toEqual(['lost 20 ms', 'runs 34 ppm slower from here']);
    expect(bends[0]!.atSec).toBeCloseTo(sessionSecOf(clock, 100), 9);
    expect(bendWords({ takeSec: 1, jumpSec: -0.0052, driftPpm: 3 }, 0)).toBe(
      '5.2 ms doubled, runs 3 ppm faster from here',
    );
  });

  it('shows evidence of kinds that the trail has none of, and not twice what it has', () => {
    const one = { atSec: 3, takeSec: 5, uncertaintySec: 0.01, accepted: true };
    const evidence = [
      { ...one, kind: 'clap' },
      { ...one, kind: 'onsets' },
    ];
    expect(offsetCurve({ ...source, evidence }, 300, 'place').points).toHaveLength(31);
    expect(offsetCurve({ ...source, trail: undefined, evidence }, 300, 'place')).toMatchObject({ isHeard: false });
  });

  it('shows what the user pinned, and not that the whole was moved by hand', () => {
    const one = { kind: 'user', atSec: 3, takeSec: 5, uncertaintySec: 0.01, accepted: true };
    const evidence = [one, { ...one, takeSec: 50, anchor: { jumpTakeSec: null } }];
    const { points } = offsetCurve({ ...source, evidence }, 300, 'place');
    expect(points.filter(({ kind }) => kind === 'user').map(({ takeSec }) => takeSec)).toEqual([50]);
  });

  it('shows where it was found beside where it was laid', () => {
    const moved = { ...source, offsetSec: clock.offsetSec + 0.004, found: clock };
    for (const { fromMs, toMs } of offsetCurve(moved, 300, 'place').found) {
      expect(fromMs).toBeCloseTo(-4, 6);
      expect(toMs).toBeCloseTo(-4, 6);
    }
  });
});

describe('what a curve warns of', () => {
  it('is a residual of more than 10 ms anywhere, with where it was heard', () => {
    expect(residualWarning(source)).toBeNull();
    expect(residualWarning({ ...source, residualSec: 0.0101 })).toContain('Somewhere it may lie 10 ms');
    const late = { ...source, residualSec: 0.017, trail: heard((sec) => (sec > 240 ? 0.016 : 0)) };
    expect(residualWarning(late)).toMatch(/^Around 4:\d\d it may lie 17 ms from its place/);
  });

  it('is, for a take laid by hand, three moments and more that lie 10 ms off beyond their uncertainty', () => {
    const laid = { ...source, residualSec: undefined };
    expect(residualWarning({ ...laid, trail: heard((sec) => (sec > 260 ? 0.014 : 0)) })).toContain(
      '14 ms from this place',
    );
    expect(residualWarning({ ...laid, trail: heard((sec) => (sec > 280 ? 0.014 : 0)) })).toBeNull();
    expect(residualWarning({ ...laid, trail: heard((sec) => (sec > 260 ? 0.014 : 0), 0.003) })).toBeNull();
  });
});

describe('drawing a curve', () => {
  it('has the lines of 10 ms in view at first, and comes closer to 1 ms', () => {
    const curve = offsetCurve(source, 300, 'place');
    expect(msRange(curve, 'place', 0)).toMatchObject({ lowMs: -15, highMs: 15 });
    expect(msRange(curve, 'place', 9)).toMatchObject({ highMs: 1, canCloser: false });
    const even = msRange(offsetCurve(source, 300, 'even'), 'even', 0);
    expect(even.highMs).toBeGreaterThan(15);
  });

  it('lets one moment in a hundred lie beyond it', () => {
    const trail = [...heard(() => 0), ...heard(() => 0), ...heard(() => 0)];
    const far = trail.map((one, n) => (n === 7 ? { ...one, atSec: one.atSec + 0.4 } : one));
    expect(msRange(offsetCurve({ ...source, trail: far }, 300, 'place'), 'place', 0).highMs).toBe(15);
  });

  it('draws bands and lines along the pieces, a jump as an upright', () => {
    const { place } = offsetCurve(source, 300, 'even');
    const same = (value: number): number => value;
    expect(bandPath(place, WARN_MS, same, same).match(/Z/g)).toHaveLength(3);
    expect(linePath(place, 0, same, same, true).match(/M/g)).toHaveLength(1);
    expect(linePath(place, 0, same, same, false).match(/M/g)).toHaveLength(3);
  });

  it('has another sign and another name for each kind of witness', () => {
    const kinds = ['clap', 'bleed', 'onsets', 'mutual', 'user'];
    expect(new Set(kinds.map((kind) => witnessSign(kind, 0, 0, 4))).size).toBe(5);
    expect(new Set(kinds.map(witnessName)).size).toBe(5);
  });
});
