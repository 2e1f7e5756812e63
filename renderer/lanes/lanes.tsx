import { useCallback, useEffect, useMemo, useRef, useState } from 'react';
import { useBench } from '../desk/bench-store.ts';
import { theBridge, useView } from '../desk/desk-store.ts';
import { addShortcuts } from '../help/shortcuts.ts';
import { headHeightPx } from './draw-head.ts';
import { laneKeyWords } from './lane-keys.ts';
import { onShowInLanes, useLaneOverlay } from './lane-overlay.ts';
import { startPointer } from './lane-pointer.ts';
import { LaneRows } from './lane-rows.tsx';
import { type Lane, neighbourOf, type Scene } from './lane-scene.ts';
import { LanesHead } from './lanes-head.tsx';
import { useLanesPrefs } from './lanes-prefs.ts';
import { LanesStage } from './lanes-stage.ts';
import { bringIntoView, LanesTools, Selected, showWhole, ZOOM_STEP, zoomBy } from './lanes-tools.tsx';
import { type MenuAt, OpenMenu } from './open-menu.tsx';
import { TimeScrollbar } from './time-scrollbar.tsx';
import { useScene } from './use-scene.ts';
import './lanes.css';

/**
 * The score: the guide line on top, a lane a voice with its takes folded below, one time line for all. Drawn on a canvas
 * of our own: a ready-made waveform view, one instance a lane, was measured to block the page 0.3 to 0.5 s for a zoom of
 * 12 lanes, where 24 are to follow the hand.
 */
export function Lanes() {
  const { folder } = useView();
  const { follow } = useLanesPrefs();
  const [stage] = useState(() => new LanesStage((route) => theBridge().mediaUrl(route)));
  const [active, setActive] = useState('');
  const [menu, setMenu] = useState<MenuAt | null>(null);
  const [roomPx, setRoomPx] = useState(0);
  const scene = useScene(roomPx);
  useGhost(stage, scene);
  useOverlay(stage);
  useEffect(() => stage.setScene(scene), [stage, scene]);
  useEffect(() => stage.setFollow(follow), [stage, follow]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: another session is shown whole at first.
  useEffect(() => showWhole(stage), [stage, folder]);
  const { body, canvas, line, scroller } = useStage(stage, setActive, setMenu);
  useEffect(() => {
    const seen = scroller.current;
    if (seen === null) return undefined;
    const watch = new ResizeObserver(() => setRoomPx(seen.clientHeight));
    watch.observe(seen);
    return () => watch.disconnect();
  }, [scroller]);

  const goTo = (lane: Lane | undefined): void => {
    if (lane === undefined) return;
    setActive(lane.key);
    const row = rowOf(body.current, lane.key);
    row?.focus();
    row?.scrollIntoView({ block: 'nearest' });
  };
  const openMenu = useCallback((lane: Lane, at: DOMRect) => {
    setMenu({ laneKey: lane.key, x: at.left, y: at.bottom });
  }, []);
  const closeMenu = useCallback(() => {
    setMenu((open) => {
      if (open !== null) rowOf(body.current, open.laneKey)?.focus();
      return null;
    });
  }, [body]);
  return (
    <section className="lanes" aria-label="Score">
      <LanesTools stage={stage} />
      <div
        className="lanes-body"
        ref={body}
        style={{ '--lanes-head': `${headHeightPx(scene)}px` } as React.CSSProperties}
      >
        <div aria-hidden="true">
          <canvas className="lanes-canvas" ref={canvas} />
        </div>
        <LanesHead stage={stage} scene={scene} onDown={() => goTo(scene.lanes[0])} onMenu={openMenu} />
        <div className="lanes-scroll" ref={scroller}>
          <LaneRows stage={stage} scene={scene} active={active} onActive={setActive} onGoTo={goTo} onMenu={openMenu} />
        </div>
        <div className="lanes-overlay" aria-hidden="true">
          <div className="lanes-line" ref={line} />
        </div>
      </div>
      <div className="lanes-foot">
        <Selected />
        <TimeScrollbar stage={stage} scene={scene} />
      </div>
      {menu === null ? null : <OpenMenu at={menu} stage={stage} scene={scene} onClose={closeMenu} />}
    </section>
  );
}

/** The elements of the stage, and everything that listens on them. */
function useStage(stage: LanesStage, setActive: (key: string) => void, setMenu: (menu: MenuAt) => void) {
  const body = useRef<HTMLDivElement>(null);
  const canvas = useRef<HTMLCanvasElement>(null);
  const line = useRef<HTMLDivElement>(null);
  const scroller = useRef<HTMLDivElement>(null);
  useEffect(() => {
    if (canvas.current === null || line.current === null || body.current === null || scroller.current === null)
      return undefined;
    const endStage = stage.start(canvas.current, line.current);
    const endPointer = startPointer({
      stage,
      body: body.current,
      canvas: canvas.current,
      scroller: scroller.current,
      onLane: (lane) => setActive(lane.key),
      onMenu: (lane, x, y) => setMenu({ laneKey: lane.key, x, y }),
    });
    const endShortcuts = addShortcuts('Lanes', [
      { keys: 'plus', words: 'Zoom in', run: () => zoomBy(stage, ZOOM_STEP) },
      { keys: '-', words: 'Zoom out', run: () => zoomBy(stage, 1 / ZOOM_STEP) },
      { keys: '0', words: 'Show the whole piece', run: () => showWhole(stage) },
    ]);
    const endWords = addShortcuts('In a lane', laneKeyWords);
    return () => {
      endStage();
      endPointer();
      endShortcuts();
      endWords();
    };
  }, [stage, setActive, setMenu]);
  return { body, canvas, line, scroller };
}

/** What the step at hand draws over the lanes, and asks to be brought into view. */
function useOverlay(stage: LanesStage) {
  const overlay = useLaneOverlay((state) => state.overlay);
  useEffect(() => stage.setOverlay(overlay), [stage, overlay]);
  useEffect(() => onShowInLanes((stretch) => bringIntoView(stage, stretch)), [stage]);
}

/** What is drawn of take and stretch in hand; in the step "Line up" with a neighbour's sound behind the take. */
function useGhost(stage: LanesStage, scene: Scene) {
  const takeId = useBench((state) => state.takeId);
  const stretch = useBench((state) => state.stretch);
  const moves = useBench((state) => state.step === 'lineUp');
  const ghost = useMemo(() => {
    const lane = moves && takeId !== null ? scene.lanes.find((one) => one.take?.id === takeId) : undefined;
    if (lane === undefined || lane.take === null) return null;
    const wave = neighbourOf(scene, lane.take.id)?.wave ?? null;
    return wave === null ? null : { takeId: lane.take.id, wave };
  }, [moves, takeId, scene]);
  useEffect(() => {
    stage.setLook({ takeId, stretch, ghost });
  }, [stage, takeId, stretch, ghost]);
}

function rowOf(body: HTMLElement | null, key: string): HTMLElement | null {
  return body?.querySelector<HTMLElement>(`[data-lane="${CSS.escape(key)}"]`) ?? null;
}
