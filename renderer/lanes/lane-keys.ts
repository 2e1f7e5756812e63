import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { foldTakes, useBench } from '../desk/bench-store.ts';
import { useDesk } from '../desk/desk-store.ts';
import type { Shortcut } from '../help/shortcuts.ts';
import { bringToHand, selectStretch } from './lane-pointer.ts';
import type { Lane } from './lane-scene.ts';
import type { LanesStage } from './lanes-stage.ts';
import { nudge } from './nudge.ts';
import { playbackFrame, seekTo } from './the-player.ts';
import { kept, movedBy, pixelOf } from './time-view.ts';

/** An arrow key moves the playback line by so many pixels, with Ctrl by one. */
const STEP_PX = 10;

/** What keys do while a lane has the focus, for the help. */
export const laneKeyWords: readonly Shortcut[] = [
  ['arrowup', 'To the lane above; down to the one below'],
  ['arrowleft', 'Playback line earlier; right, later. With Ctrl by one pixel'],
  ['shift+arrowright', 'Select a stretch from the playback line; left, the other way'],
  ['enter', 'Bring the take to hand'],
  ['t', 'Unfold or fold the takes of a voice'],
  ['shift+f10', 'What can be done here: learn the noise, play, repeat, zoom'],
  ['escape', 'Clear the selection'],
  ['home', 'Playback line to the beginning; End, to the end'],
  ['pagedown', 'Look further along; Page up, back'],
  ['.', 'In the step "Line up": the take 1 ms later, with Shift 10 ms, with Alt 1 sample; comma, earlier'],
].map(([keys, words]) => ({ keys: keys!, words: words!, run: null }));

export interface KeyPlace {
  readonly stage: LanesStage;
  readonly lanes: readonly Lane[];
  readonly at: number;
  readonly goTo: (index: number) => void;
  readonly openMenu: (lane: Lane) => void;
}

/** What a key does while a lane has the focus; true when it did something. */
export function laneKey(place: KeyPlace, event: React.KeyboardEvent): boolean {
  const { lanes, at, stage } = place;
  const lane = lanes[at];
  if (lane === undefined) return false;
  if (event.code === 'Comma' || event.code === 'Period') return moveTake(lane, event);
  if (event.altKey || event.metaKey) return false;
  switch (event.key) {
    case 'ArrowDown':
      place.goTo(Math.min(lanes.length - 1, at + 1));
      return true;
    case 'ArrowUp':
      place.goTo(Math.max(0, at - 1));
      return true;
    case 'ArrowLeft':
    case 'ArrowRight': {
      const px = event.ctrlKey ? 1 : STEP_PX;
      const frames = Math.max(1, Math.round(px * stage.getView().framesPerPx)) * (event.key === 'ArrowLeft' ? -1 : 1);
      if (event.shiftKey) extend(stage, lane, frames);
      else moveLine(stage, playbackFrame() + frames);
      return true;
    }
    case 'Home':
      moveLine(stage, 0);
      return true;
    case 'End':
      moveLine(stage, stage.getScene()?.extent.toFrame ?? 0);
      return true;
    case 'PageUp':
    case 'PageDown': {
      const scene = stage.getScene();
      const view = stage.getView();
      if (scene === undefined) return false;
      stage.setView(movedBy(view, scene.extent, (event.key === 'PageUp' ? -0.8 : 0.8) * view.widthPx));
      return true;
    }
    case 'Enter':
      bringToHand(lane);
      return true;
    case 'Escape':
      if (useBench.getState().stretch === null) return false;
      useBench.setState({ stretch: null });
      return true;
    case 'ContextMenu':
      place.openMenu(lane);
      return true;
    case 'F10':
      if (!event.shiftKey) return false;
      place.openMenu(lane);
      return true;
    case 't':
      if (event.ctrlKey || lane.voice === null) return false;
      foldTakes(lane.voice.id);
      return true;
    default:
      return false;
  }
}

function moveLine(stage: LanesStage, frame: number): void {
  seekTo(frame);
  reveal(stage, Math.max(0, frame));
  stage.invalidate();
}

/** Brings a time into view where it is not. */
function reveal(stage: LanesStage, frame: number): void {
  const scene = stage.getScene();
  const view = stage.getView();
  const x = pixelOf(view, frame);
  if (scene === undefined || (x >= 0 && x <= view.widthPx)) return;
  const at = x < 0 ? 0.1 : 0.9;
  stage.setView(kept({ ...view, leftFrame: frame - at * view.widthPx * view.framesPerPx }, scene.extent));
}

/** Grows or shrinks the selected stretch at its moving end; a new one begins at the playback line. */
function extend(stage: LanesStage, lane: Lane, frames: number): void {
  const { stretch } = useBench.getState();
  const line = playbackFrame();
  const isOwn = stretch !== null && stretch.takeId === (lane.take?.id ?? null);
  const from = isOwn ? stretch.fromSec * SESSION_RATE_HZ : line;
  const to = isOwn ? stretch.toSec * SESSION_RATE_HZ : line;
  // The line is the fixed end where it still stands on one; else the beginning is.
  const fixed = Math.abs(to - line) < 1 ? to : from;
  const moving = (fixed === to ? from : to) + frames;
  if (Math.abs(moving - fixed) < 0.5) useBench.setState({ stretch: null });
  else selectStretch(lane, fixed, moving);
  reveal(stage, moving);
}

function moveTake(lane: Lane, event: React.KeyboardEvent): boolean {
  if (useBench.getState().step !== 'lineUp' || event.ctrlKey || event.metaKey || lane.take === null) return false;
  const take = useDesk.getState().view?.session.takes.find((one) => one.id === lane.take?.id);
  if (take === undefined) return false;
  const frames = event.altKey ? 1 : event.shiftKey ? 480 : 48;
  nudge(take, event.code === 'Comma' ? -frames : frames);
  return true;
}
