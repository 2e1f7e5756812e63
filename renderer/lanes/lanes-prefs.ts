import { create } from 'zustand';
import { keep, kept } from '../parts/kept.ts';
import type { WaveScale } from './lane-content.ts';
import type { LaneSize } from './lane-heights.ts';
import type { Follow } from './time-view.ts';

/** How the user likes the lanes; kept on this machine, not in the session. */
export interface LanesPrefs {
  readonly size: LaneSize;
  readonly follow: Follow;
  readonly scale: WaveScale;
}

const KEY = 'lanes';

export const useLanesPrefs = create<LanesPrefs>(() => readPrefs());

export function setLanesPrefs(change: Partial<LanesPrefs>): void {
  useLanesPrefs.setState(change);
  keep(KEY, JSON.stringify(useLanesPrefs.getState()));
}

function readPrefs(): LanesPrefs {
  const usual: LanesPrefs = { size: 'fit', follow: 'pages', scale: 'levelled' };
  try {
    const value: unknown = JSON.parse(kept(KEY) ?? '{}');
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
