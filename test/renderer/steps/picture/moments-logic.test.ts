import { describe, expect, it } from 'vitest';
import type { KeptPlan } from '../../../../core/session/kept-plan.ts';
import { usualTile } from '../../../../core/session/picture-choice.ts';
import { barNumbers, barsOfSec, secOfBars } from '../../../../renderer/steps/picture/bar-stretch.ts';
import { addedMoments, soloEdits, withMoments } from '../../../../renderer/steps/picture/moment-edits.ts';

/** Bars 0 (a pick-up) to 8 of 2 s each, from 10 s on. */
const plan = {
  musicEndFrame: 28 * 48000,
  bars: Array.from({ length: 9 }, (_, number) => ({ number, frame: (10 + 2 * number) * 48000 })),
} as unknown as KeptPlan;

describe('moments on the bench', () => {
  it('are set in bars, from the first one to the end of the last, and read back as the same bars', () => {
    expect(secOfBars(plan, { fromBar: 3, toBar: 4 })).toEqual({ fromSec: 16, toSec: 20 });
    expect(secOfBars(plan, { fromBar: 8, toBar: 8 })).toEqual({ fromSec: 26, toSec: 28 });
    expect(secOfBars(plan, { fromBar: 5, toBar: 4 })).toBeNull();
    expect(barsOfSec(plan, { fromSec: 16, toSec: 20 })).toEqual({ fromBar: 3, toBar: 4 });
    expect(barsOfSec(plan, { fromSec: 3, toSec: 11 })).toEqual({ fromBar: 0, toBar: 0 });
    expect(barNumbers(plan)).toEqual({ lowest: 0, highest: 8 });
  });

  it('are added where none of their kind is yet, in order, and leave the tile as it was when all are gone', () => {
    const tile = usualTile('v1');
    const once = addedMoments([], [{ fromSec: 8, toSec: 12 }], 'large');
    const twice = addedMoments(
      once,
      [
        { fromSec: 11, toSec: 14 },
        { fromSec: 2, toSec: 5 },
      ],
      'large',
    );
    expect(withMoments(tile, twice).moments!.map(({ fromSec }) => fromSec)).toEqual([2, 8]);
    expect(withMoments(withMoments(tile, twice), [])).toEqual(tile);
  });

  it('make each voice large in its solos as one step for undo, and none where nothing is new', () => {
    const tiles = [usualTile('v1'), usualTile('v2')];
    const solos = { v2: [{ fromSec: 4, toSec: 9 }], gone: [{ fromSec: 1, toSec: 5 }] };
    const made = soloEdits(tiles, solos);
    expect(made).toMatchObject({ kind: 'together', edits: [{ kind: 'setTile', voiceId: 'v2' }] });
    const after = withMoments(tiles[1]!, [{ fromSec: 4, toSec: 9, as: 'large', soft: true }]);
    expect(soloEdits([tiles[0]!, after], solos)).toBeNull();
  });
});
