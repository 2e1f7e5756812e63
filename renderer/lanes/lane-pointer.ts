import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { takeInHand, useBench } from '../desk/bench-store.ts';
import { useDesk } from '../desk/desk-store.ts';
import { joinNear } from '../passages/passage-edits.ts';
import { headHeightPx, RULER_PX } from './draw-head.ts';
import type { LaneJoin } from './lane-parts.ts';
import { type Lane, laneAt, markAt } from './lane-scene.ts';
import type { LanesStage } from './lanes-stage.ts';
import { nudge } from './nudge.ts';
import { seekTo } from './the-player.ts';
import { frameAt, movedBy, pixelOf, zoomedAt } from './time-view.ts';

/** A drag begins after so many CSS pixels; less is a click. */
const DRAG_FROM_PX = 4;
/** Zoom of one notch of a wheel (100 units) is about a quarter of a tenfold. */
const WHEEL_ZOOM = 0.0058;
const LINE_PX = 24;
/** A join is taken hold of within so many CSS pixels of its line. */
const JOIN_REACH_PX = 5;
/** What an overlay draws is picked within so many CSS pixels. */
const PICK_REACH_PX = 5;
/** While a take is dragged, the desk hears of it so often. */
const EDIT_EVERY_MS = 40;

interface Drag {
  readonly lane: Lane;
  readonly beginX: number;
  readonly beginFrame: number;
  readonly moves: boolean;
  /** The join that was taken hold of. */
  readonly join: LaneJoin | null;
  doneFrames: number;
  doneAtMs: number;
  going: boolean;
}

/** Where things are on the screen, for gestures: the canvas, the scrolled column, and what they do. */
export interface PointerPlace {
  readonly stage: LanesStage;
  readonly body: HTMLElement;
  readonly canvas: HTMLElement;
  readonly scroller: HTMLElement;
  readonly onLane: (lane: Lane) => void;
  readonly onMenu: (lane: Lane, x: number, y: number) => void;
}

/** The lane at a point of the window, and the session frame there; undefined outside the time line. */
function under(
  place: PointerPlace,
  event: MouseEvent,
): { lane: Lane; x: number; frame: number; isRuler: boolean } | undefined {
  const scene = place.stage.getScene();
  if (scene === undefined) return undefined;
  const box = place.canvas.getBoundingClientRect();
  const x = event.clientX - box.left;
  const y = event.clientY - box.top;
  const head = headHeightPx(scene);
  const frame = frameAt(place.stage.getView(), x);
  if (x < 0 || y < 0 || x > box.width) return undefined;
  if (y < head) return { lane: scene.guide, x, frame, isRuler: y < RULER_PX };
  const lane = laneAt(scene.lanes, y - head + place.scroller.scrollTop);
  return lane === undefined ? undefined : { lane, x, frame, isRuler: false };
}

/** Selects a stretch in a lane, session frames in any order; kept to where the take has sound. */
export function selectStretch(lane: Lane, oneFrame: number, otherFrame: number): void {
  const fromSec = Math.min(oneFrame, otherFrame) / SESSION_RATE_HZ;
  const toSec = Math.max(oneFrame, otherFrame) / SESSION_RATE_HZ;
  if (toSec <= fromSec) return;
  if (lane.kind !== 'guide' && lane.take === null) return;
  useBench.setState({ stretch: { fromSec, toSec, takeId: lane.take?.id ?? null } });
}

/** Brings a lane's voice and take to hand. */
export function bringToHand(lane: Lane): void {
  if (lane.voice !== null) takeInHand(lane.voice.id, lane.take?.id ?? null);
}

/** Wheel, drag, click, double click, pinch and context button over the lanes; returns how to end. */
export function startPointer(place: PointerPlace): () => void {
  const { stage, body, scroller } = place;
  const stop = new AbortController();
  const { signal } = stop;
  let drag: Drag | undefined;
  const touches = new Map<number, { x: number; y: number }>();

  body.addEventListener('wheel', (event) => wheel(place, event), { signal, passive: false });
  body.addEventListener(
    'pointerdown',
    (event) => {
      if (event.pointerType === 'touch') touches.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (event.button !== 0 || isControl(event.target) || touches.size > 1) return;
      const at = under(place, event);
      if (at === undefined) return;
      const moves = event.altKey && isMovable(at.lane);
      if (!at.isRuler) {
        place.onLane(at.lane);
        bringToHand(at.lane);
      }
      const join = moves ? null : joinUnder(place, at);
      drag = {
        lane: at.lane,
        beginX: at.x,
        beginFrame: at.frame,
        moves,
        join,
        doneFrames: 0,
        doneAtMs: 0,
        going: false,
      };
      body.setPointerCapture(event.pointerId);
    },
    { signal },
  );
  body.addEventListener(
    'pointermove',
    (event) => {
      if (touches.size === 2 && touches.has(event.pointerId)) {
        pinch(place, touches, event);
        drag = undefined;
        return;
      }
      if (drag !== undefined) follow(place, drag, event, false);
      else {
        const at = isControl(event.target) ? undefined : under(place, event);
        scroller.classList.toggle('lanes-at-join', at !== undefined && joinUnder(place, at) !== null);
      }
    },
    { signal },
  );
  const up = (event: PointerEvent): void => {
    touches.delete(event.pointerId);
    const done = drag;
    drag = undefined;
    stage.setJoinAt(null);
    if (done === undefined || event.type === 'pointercancel') return;
    if (done.going) follow(place, done, event, true);
    if (!done.going && !done.moves) {
      if (useBench.getState().stretch !== null) useBench.setState({ stretch: null });
      seekTo(done.beginFrame);
      const slackSec = (PICK_REACH_PX * stage.getView().framesPerPx) / SESSION_RATE_HZ;
      stage.getOverlay()?.pick(done.lane, done.beginFrame / SESSION_RATE_HZ, slackSec);
    }
  };
  body.addEventListener('pointerup', up, { signal });
  body.addEventListener('pointercancel', up, { signal });
  body.addEventListener(
    'dblclick',
    (event) => {
      const at = isControl(event.target) ? undefined : under(place, event);
      const mark = at === undefined ? null : markAt(at.lane, at.frame / SESSION_RATE_HZ);
      if (at !== undefined && mark !== null)
        selectStretch(at.lane, mark.fromSec * SESSION_RATE_HZ, mark.toSec * SESSION_RATE_HZ);
    },
    { signal },
  );
  body.addEventListener(
    'contextmenu',
    (event) => {
      const at = under(place, event);
      if (at === undefined || at.lane.voice === null) return;
      event.preventDefault();
      place.onLane(at.lane);
      place.onMenu(at.lane, event.clientX, event.clientY);
    },
    { signal },
  );
  scroller.addEventListener('scroll', () => stage.setScroll(scroller.scrollTop), { signal, passive: true });
  return () => stop.abort();
}

function isControl(target: EventTarget | null): boolean {
  return target instanceof Element && target.closest('button, input, select, .lanes-name, .lanes-menu') !== null;
}

/** The join whose line is close by. */
function joinUnder(place: PointerPlace, { lane, x }: { readonly lane: Lane; readonly x: number }): LaneJoin | null {
  const view = place.stage.getView();
  const far = (join: LaneJoin): number => Math.abs(pixelOf(view, join.atSec * SESSION_RATE_HZ) - x);
  return lane.passages?.joins.find((join) => far(join) <= JOIN_REACH_PX) ?? null;
}

/** Takes are moved by hand in their own step only, where nothing else is dragged with this key. */
function isMovable(lane: Lane): boolean {
  return useBench.getState().step === 'lineUp' && lane.take !== null;
}

function follow(place: PointerPlace, drag: Drag, event: PointerEvent, isLast: boolean): void {
  const { stage, canvas } = place;
  const x = event.clientX - canvas.getBoundingClientRect().left;
  if (!drag.going && Math.abs(x - drag.beginX) < DRAG_FROM_PX) return;
  drag.going = true;
  const scene = stage.getScene();
  if (scene === undefined) return;
  if (drag.join !== null) {
    const voiceId = drag.lane.voice?.id;
    stage.setJoinAt(isLast ? null : { laneKey: drag.lane.key, frame: frameAt(stage.getView(), x) });
    if (isLast && voiceId !== undefined) {
      void joinNear(voiceId, drag.join.index, frameAt(stage.getView(), x) / SESSION_RATE_HZ);
    }
    return;
  }
  if (drag.moves) {
    const session = useDesk.getState().view?.session;
    const take = session?.takes.find((one) => one.id === drag.lane.take?.id);
    const wanted = Math.round((x - drag.beginX) * stage.getView().framesPerPx);
    const nowMs = performance.now();
    if (take === undefined || (!isLast && nowMs - drag.doneAtMs < EDIT_EVERY_MS)) return;
    if (wanted !== drag.doneFrames) nudge(take, wanted - drag.doneFrames);
    drag.doneFrames = wanted;
    drag.doneAtMs = nowMs;
    return;
  }
  // Beyond an edge the view moves along.
  const beyond = x < 0 ? x : Math.max(0, x - stage.getView().widthPx);
  if (beyond !== 0) stage.setView(movedBy(stage.getView(), scene.extent, beyond / 4));
  selectStretch(drag.lane, drag.beginFrame, Math.max(scene.extent.fromFrame, frameAt(stage.getView(), x)));
}

function wheel(place: PointerPlace, event: WheelEvent): void {
  const { stage, scroller, canvas } = place;
  const scene = stage.getScene();
  if (scene === undefined) return;
  const unit = event.deltaMode === 1 ? LINE_PX : event.deltaMode === 2 ? scroller.clientHeight : 1;
  if (event.ctrlKey || event.metaKey) {
    event.preventDefault();
    // A pinch on a trackpad comes as small steps with Ctrl.
    const strength = Math.abs(event.deltaY) < 30 && event.deltaMode === 0 ? 1.6 : 1;
    const factor = Math.exp(-event.deltaY * unit * WHEEL_ZOOM * strength);
    const x = Math.max(0, event.clientX - canvas.getBoundingClientRect().left);
    stage.setView(zoomedAt(stage.getView(), scene.extent, x, factor));
    return;
  }
  const sideways = event.shiftKey && event.deltaX === 0;
  const down = sideways ? 0 : event.deltaY * unit;
  const across = (sideways ? event.deltaY : event.deltaX) * unit;
  if (across !== 0) {
    event.preventDefault();
    stage.setView(movedBy(stage.getView(), scene.extent, across));
  }
  if (down === 0) return;
  const before = scroller.scrollTop;
  // Set here and not left to the browser: names and canvas then move in one frame.
  scroller.scrollTop += down;
  stage.setScroll(scroller.scrollTop);
  const isAllSeen = scroller.scrollHeight <= scroller.clientHeight;
  if (scroller.scrollTop !== before) event.preventDefault();
  else if (isAllSeen && across === 0 && !scrollsAround(scroller)) {
    event.preventDefault();
    stage.setView(movedBy(stage.getView(), scene.extent, down));
  }
}

/** Something around the lanes scrolls: the wheel is its, once the lanes are at their end. */
function scrollsAround(inner: HTMLElement): boolean {
  for (let box = inner.parentElement; box !== null; box = box.parentElement) {
    if (box.scrollHeight > box.clientHeight + 1 && /auto|scroll/.test(getComputedStyle(box).overflowY)) return true;
  }
  const page = document.scrollingElement;
  return page !== null && page.scrollHeight > page.clientHeight + 1;
}

function pinch(place: PointerPlace, touches: Map<number, { x: number; y: number }>, event: PointerEvent): void {
  const scene = place.stage.getScene();
  const before = [...touches.values()];
  touches.set(event.pointerId, { x: event.clientX, y: event.clientY });
  const after = [...touches.values()];
  if (scene === undefined) return;
  const wide = (two: { x: number; y: number }[]): number =>
    Math.max(10, Math.hypot(two[0]!.x - two[1]!.x, two[0]!.y - two[1]!.y));
  const middle = (two: { x: number }[]): number =>
    (two[0]!.x + two[1]!.x) / 2 - place.canvas.getBoundingClientRect().left;
  const zoomed = zoomedAt(place.stage.getView(), scene.extent, middle(after), wide(after) / wide(before));
  place.stage.setView(movedBy(zoomed, scene.extent, middle(before) - middle(after)));
}
