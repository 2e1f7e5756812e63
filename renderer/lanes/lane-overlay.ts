import { create } from 'zustand';
import type { SpanView } from '../../app/shell/contract/desk-view.ts';
import type { Drawing } from './draw-lane.ts';
import type { LanePart } from './lane-parts.ts';
import type { Lane, LaneWave } from './lane-scene.ts';

/** What a step draws over the lanes, in their one canvas. Heights are device pixels; both are called for every lane in view. */
export interface LaneOverlay {
  /** The staff's share of a lane's height while it is there. */
  readonly staffShare: number;
  /** So much of a lane's left is taken by its scale, CSS pixels; left out: nothing. */
  readonly scalePx?: number;
  /** On the bare staff, below the waveform. */
  under(drawing: Drawing, lane: Lane, top: number, height: number): void;
  over(drawing: Drawing, lane: Lane, top: number, height: number): void;
  /** A click in a lane at a session time, s; `slackSec` around it still counts as near. */
  pick(lane: Lane, sec: number, slackSec: number): void;
}

/** The overlay of the step at hand; null where it has none. */
export const useLaneOverlay = create<{ readonly overlay: LaneOverlay | null }>(() => ({ overlay: null }));

/** Below an overlay a lane shows its waveform pale and leaves out what belongs to other steps. */
export function calmLane(lane: Lane): Lane {
  const { passages } = lane;
  return {
    ...lane,
    sounds: false,
    wave: calmWave(lane.wave),
    silence: null,
    music: null,
    clapSec: null,
    clipped: [],
    ...(passages == null ? {} : { passages: { ...passages, parts: passages.parts.map(calmPart) } }),
  };
}

function calmPart(part: LanePart): LanePart {
  return { ...part, wave: calmWave(part.wave), sounds: false };
}

/** Before and after would have the same colour: one is drawn. */
function calmWave(wave: LaneWave | null): LaneWave | null {
  return wave === null || wave.after === null ? wave : { ...wave, before: null };
}

const watchers = new Set<(stretch: SpanView) => void>();

/** Asks the lanes to bring a stretch of session time into view, as far as it is not. */
export function showInLanes(stretch: SpanView): void {
  for (const watcher of watchers) watcher(stretch);
}

/** Listens for what is to be shown; returns how to stop. */
export function onShowInLanes(watcher: (stretch: SpanView) => void): () => void {
  watchers.add(watcher);
  return () => watchers.delete(watcher);
}
