import { create } from 'zustand';
import type { LaneSize } from './lane-heights.ts';
import type { WaveScale } from './lane-scene.ts';
import type { Follow } from './time-view.ts';

/** How the user likes the lanes; kept on this machine, not in the session. */
export interface LanesPrefs {
  readonly size: LaneSize;
  readonly follow: Follow;
  readonly scale: WaveScale;
}

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
  const usual: LanesPrefs = { size: 'fit', follow: 'pages', scale: 'levelled' };
  try {
    const value: unknown = JSON.parse(localStorage.getItem(KEY) ?? '{}');
    if (typeof value !== 'object' || value === null) return usual;
    const held = value as Partial<Record<keyof LanesPrefs, unknown>>;
    return {
      size: held.size === 'low' || held.size === 'middle' || held.size === 'tall' ? held.size : 'fit',
      follow: held.follow === 'off' || held.follow === 'smoothly' ? held.follow : 'pages',
      scale: held.scale === 'asRecorded' ? 'asRecorded' : 'levelled',
    };
  } catch {
    return usual;
  }
}
