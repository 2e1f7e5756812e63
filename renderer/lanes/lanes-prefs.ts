import { create } from 'zustand';
import type { LaneHeights, WaveScale } from './lane-scene.ts';
import type { Follow } from './time-view.ts';

export type LaneSize = 'low' | 'middle' | 'tall';

/** How the user likes the lanes; kept on this machine, not in the session. */
export interface LanesPrefs {
  readonly size: LaneSize;
  readonly follow: Follow;
  readonly scale: WaveScale;
}

/** CSS pixels; a low lane still has room for a control of 24 px. */
export const laneHeights: Readonly<Record<LaneSize, LaneHeights>> = {
  low: { voicePx: 44, takePx: 36 },
  middle: { voicePx: 76, takePx: 52 },
  tall: { voicePx: 132, takePx: 92 },
};

const KEY = 'partsong.lanes';

export const useLanesPrefs = create<LanesPrefs>(() => ({ ...kept() }));

export function setLanesPrefs(change: Partial<LanesPrefs>): void {
  useLanesPrefs.setState(change);
  try {
    localStorage.setItem(KEY, JSON.stringify(useLanesPrefs.getState()));
  } catch {
    // A page without storage keeps them until it is closed.
  }
}

function kept(): LanesPrefs {
  const usual: LanesPrefs = { size: 'middle', follow: 'pages', scale: 'levelled' };
  try {
    const value: unknown = JSON.parse(localStorage.getItem(KEY) ?? '{}');
    if (typeof value !== 'object' || value === null) return usual;
    const held = value as Partial<Record<keyof LanesPrefs, unknown>>;
    return {
      size: held.size === 'low' || held.size === 'tall' ? held.size : 'middle',
      follow: held.follow === 'off' || held.follow === 'smoothly' ? held.follow : 'pages',
      scale: held.scale === 'asRecorded' ? 'asRecorded' : 'levelled',
    };
  } catch {
    return usual;
  }
}
