import type { LaneHeights } from './lane-scene.ts';

/** How tall lanes are wished: all of them in view at once where they have room, or one of three fixed heights. */
export type LaneSize = 'fit' | 'low' | 'middle' | 'tall';

/** CSS pixels; a low lane still has room for a control of 24 px. */
const fixedHeights: Readonly<Record<Exclude<LaneSize, 'fit'>, LaneHeights>> = {
  low: { voicePx: 44, takePx: 36 },
  middle: { voicePx: 76, takePx: 52 },
  tall: { voicePx: 132, takePx: 92 },
};

/** Lanes that fit themselves to the room are never lower nor taller than this, CSS pixels. */
const LEAST: LaneHeights = { voicePx: 34, takePx: 30 };
const MOST: LaneHeights = { voicePx: 108, takePx: 76 };
/** An unfolded take's height as a share of its voice's. */
const TAKE_SHARE = 0.7;

/** How many lanes there are to be shown. */
export interface LaneCount {
  readonly voices: number;
  /** Takes that are unfolded. */
  readonly takes: number;
}

/** Heights of lanes, CSS pixels, for a room of `roomPx` in height; whole pixels. */
export function heightsFor(size: LaneSize, count: LaneCount, roomPx: number): LaneHeights {
  if (size !== 'fit') return fixedHeights[size];
  const shares = count.voices + TAKE_SHARE * count.takes;
  if (shares === 0 || roomPx <= 0) return fixedHeights.middle;
  const voicePx = roomPx / shares;
  const between = (px: number, which: keyof LaneHeights): number =>
    Math.floor(Math.max(LEAST[which], Math.min(MOST[which], px)));
  return { voicePx: between(voicePx, 'voicePx'), takePx: between(TAKE_SHARE * voicePx, 'takePx') };
}
