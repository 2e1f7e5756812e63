import { beforeAll, describe, expect, it } from 'vitest';
import type { DeskView } from '../../../app/shell/contract/desk-view.ts';
import { calmLane, onShowInLanes, showInLanes } from '../../../renderer/lanes/lane-overlay.ts';
import { sceneOf } from '../../../renderer/lanes/lane-scene.ts';
import { standInBridge } from '../../stand-in/stand-in-bridge.ts';

let view: DeskView;
beforeAll(async () => {
  view = (await standInBridge(new URLSearchParams('voices=2&length=60')).calls.begin({})).desk!;
});

describe('a lane below an overlay', () => {
  it('keeps its waveform, one of the two and pale, and leaves out what belongs to other steps', () => {
    const [, lane] = sceneOf(view, [], { voicePx: 76, takePx: 52 }, 'levelled', []).lanes;
    expect(lane!.clipped.length).toBe(2);
    const calm = calmLane(lane!);
    expect(calm).toMatchObject({ sounds: false, silence: null, music: null, clapSec: null, clipped: [] });
    expect(calm.wave).toMatchObject({ before: null, after: lane!.wave!.after });
    expect([calm.key, calm.topPx, calm.take]).toEqual([lane!.key, lane!.topPx, lane!.take]);
  });

  it('shows the sound as recorded where there is no other, and passages as pale', () => {
    const [lane] = sceneOf(view, [], { voicePx: 76, takePx: 52 }, 'levelled', []).lanes;
    const raw = { ...lane!.wave!, after: null };
    const parts = [{ fromSec: 0, toSec: 9, wave: lane!.wave, sounds: true }];
    const calm = calmLane({ ...lane!, wave: raw, passages: { parts, joins: [], firstNumber: 1 } });
    expect(calm.wave).toBe(raw);
    expect(calm.passages!.parts[0]).toMatchObject({ sounds: false, wave: { before: null } });
  });
});

describe('what a bench asks the lanes to show', () => {
  it('reaches them until they stop to listen', () => {
    const seen: number[] = [];
    const stop = onShowInLanes(({ fromSec }) => seen.push(fromSec));
    showInLanes({ fromSec: 3, toSec: 4 });
    stop();
    showInLanes({ fromSec: 5, toSec: 6 });
    expect(seen).toEqual([3]);
  });
});
