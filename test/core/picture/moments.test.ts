import { describe, expect, it } from 'vitest';
import { graphText } from '../../../core/picture/filter-graph.ts';
import { type TileMoment, tooManyChangesAt } from '../../../core/picture/moments.ts';
import { designFaults, type TileDesign, usualDesign } from '../../../core/picture/picture-design.ts';
import type { VoicePicture } from '../../../core/picture/picture-plan.ts';
import { planPicture } from '../../../core/picture/plan-picture.ts';
import { boxAt, opacityAt, seenStretches } from '../../../core/picture/tile-path.ts';
import { clipPicture } from './clip-kit.ts';

const canvas = { widthPx: 1280, heightPx: 720 };
const large = (fromSec: number, toSec: number, soft = true): TileMoment => ({ fromSec, toSec, as: 'large', soft });
const away = (fromSec: number, toSec: number, soft = true): TileMoment => ({ fromSec, toSec, as: 'away', soft });
const voices = Array.from(
  { length: 4 },
  (_, n): VoicePicture => ({
    ...{ voiceId: `v${n}`, name: `voice ${n}`, isLead: n === 0, colour: n, peaks: [] },
    pieces: [{ picture: clipPicture(), place: { offsetSec: 0, driftPpm: 0 }, fromSec: 0, toSec: 60 }],
  }),
);
const plan = (tiles: readonly TileDesign[]) =>
  planPicture({
    design: { ...usualDesign(canvas), tiles },
    voices,
    span: { fromSec: 2, toSec: 22 },
    sound: null,
    filters: new Set(),
  });
const areaAt = (planned: ReturnType<typeof plan>, index: number, sec: number): number => {
  const { widthPx, heightPx } = boxAt(planned.tiles[index]!.path, sec);
  return widthPx * heightPx;
};

describe('moments of tiles', () => {
  it('let a tile grow to more than twice its size within 0.5 s while the others make room, and shrink again', () => {
    const planned = plan([{ voiceId: 'v2', moments: [large(5, 9)] }]);
    const home = planned.tiles.map(({ box }) => box.widthPx * box.heightPx);
    expect(areaAt(planned, 2, 4.99)).toBe(home[2]);
    expect(areaAt(planned, 2, 5.51)).toBeGreaterThan(2 * home[2]!);
    expect(areaAt(planned, 0, 5.51)).toBeLessThan(home[0]!);
    expect(areaAt(planned, 2, 9.51)).toBe(home[2]);
    const middle = areaAt(planned, 2, 5.25);
    expect(middle).toBeGreaterThan(home[2]!);
    expect(middle).toBeLessThan(areaAt(planned, 2, 6));
    // At rest no two tiles lie over one another.
    const [one, other] = [boxAt(planned.tiles[2]!.path, 7), boxAt(planned.tiles[0]!.path, 7)];
    expect(one.xPx + one.widthPx <= other.xPx || other.xPx + other.widthPx <= one.xPx).toBe(true);
    expect(planned.way).toBe('overlay');
  });

  it('go from one solo to the next at once, the later one large where both would be', () => {
    const planned = plan([
      { voiceId: 'v0', moments: [large(5, 12)] },
      { voiceId: 'v1', moments: [large(8, 10, false)] },
    ]);
    expect(areaAt(planned, 0, 7)).toBeGreaterThan(areaAt(planned, 1, 7));
    expect(areaAt(planned, 1, 9)).toBeGreaterThan(areaAt(planned, 0, 9));
    expect(areaAt(planned, 0, 11)).toBeGreaterThan(areaAt(planned, 1, 11));
    expect(planned.tiles[1]!.path.steps[1]!.changeSec).toBe(0);
  });

  it('let a tile come and go, several times, softly or at once', () => {
    const tile: TileDesign = {
      voiceId: 'v1',
      span: { fromSec: 4, toSec: 18 },
      moments: [away(8, 10), away(12, 13, false)],
    };
    const seen = seenStretches(tile)!;
    expect(seen.map(({ fromSec, toSec }) => [fromSec, toSec])).toEqual([
      [4, 8],
      [10, 12],
      [13, 18],
    ]);
    const path = { first: { xPx: 0, yPx: 0, ...canvas }, steps: [], seen };
    expect(opacityAt(path, 3.9)).toBe(0);
    expect(opacityAt(path, 4.15)).toBeCloseTo(0.5, 6);
    expect(opacityAt(path, 6)).toBe(1);
    expect(opacityAt(path, 9)).toBe(0);
    expect(opacityAt(path, 11.999)).toBe(1);
    expect(opacityAt(path, 13)).toBe(1);
    expect(graphText(plan([tile]).graph)).toMatch(/alphamerge/);
  });

  it('are told to FFmpeg picture by picture, and only while something moves', () => {
    const text = graphText(plan([{ voiceId: 'v2', moments: [large(5, 9)] }]).graph);
    const [, commands] = /sendcmd=c='([^']*)',crop@t2p0/.exec(text)!;
    // Two changes of 0.5 s at 30 pictures/s.
    const told = commands!.split(';');
    expect(told.length).toBeGreaterThan(24);
    expect(told.length).toBeLessThanOrEqual(32);
    // The size is told after the cut, and with it always: scale sees by this that what is cut has another size.
    for (const line of told) expect(line).toMatch(/^[\d.]+ crop@t2p0 w \d+,.*,scale@t2p0 w \d+,scale@t2p0 h \d+$/);
    expect(graphText(plan([]).graph)).not.toContain('sendcmd');
  });

  it('never change a canvas more than three times a second (WCAG 2.2, 2.3.1): such a design is refused', () => {
    const quick = [0, 0.3, 0.6].map((at) => away(5 + at, 5.15 + at, false));
    const tiles: TileDesign[] = [{ voiceId: 'v0', moments: quick }];
    expect(tooManyChangesAt(tiles)).toBe(5);
    expect(designFaults({ ...usualDesign(canvas), tiles }).join(' ')).toMatch(
      /more than 3 times within the second from 5\.0 s/,
    );
    expect(() => plan(tiles)).toThrow(/some eyes/);
    // What several tiles do at one time is one change; three a second are let be.
    const calm: TileDesign[] = ['v0', 'v1', 'v2'].map((voiceId) => ({ voiceId, moments: [away(5, 5.4), large(6, 9)] }));
    expect(tooManyChangesAt(calm)).toBeUndefined();
  });
});
