import { useCallback, useEffect, useMemo, useRef, useState } from 'react';
import type { Session } from '../../core/session/schema.ts';
import { useBench } from '../desk/bench-store.ts';
import { theBridge, useView } from '../desk/desk-store.ts';
import { addShortcuts } from '../help/shortcuts.ts';
import { barsOf } from './bar-map.ts';
import { BARS_PX, headHeightPx, RULER_PX } from './draw-head.ts';
import { GuideHead } from './guide-head.tsx';
import { laneActions } from './lane-actions.ts';
import { heightsFor, type LaneCount } from './lane-heights.ts';
import { laneKey, laneKeyWords } from './lane-keys.ts';
import { LaneMenu } from './lane-menu.tsx';
import { onShowInLanes, useLaneOverlay } from './lane-overlay.ts';
import { startPointer } from './lane-pointer.ts';
import { LaneRow } from './lane-row.tsx';
import { type Lane, neighbourOf, type Scene, sceneOf } from './lane-scene.ts';
import { guideInWords } from './lane-words.ts';
import { useLanesPrefs } from './lanes-prefs.ts';
import { LanesStage } from './lanes-stage.ts';
import { bringIntoView, LanesTools, Selected, showWhole, ZOOM_STEP, zoomBy } from './lanes-tools.tsx';
import { TimeScrollbar } from './time-scrollbar.tsx';
import './lanes.css';

interface OpenMenu {
  readonly laneKey: string;
  readonly x: number;
  readonly y: number;
}

/**
 * The score: the guide line on top, a lane a voice with its takes folded below, one time line for all. Drawn on a canvas
 * of our own: a ready-made waveform view, one instance a lane, was measured to block the page 0.3 to 0.5 s for a zoom of
 * 12 lanes, where 24 are to follow the hand.
 */
export function Lanes() {
  const view = useView();
  const unfolded = useBench((state) => state.unfolded);
  const takeId = useBench((state) => state.takeId);
  const voiceId = useBench((state) => state.voiceId);
  const { size, scale, follow } = useLanesPrefs();
  const [stage] = useState(() => new LanesStage((route) => theBridge().mediaUrl(route)));
  const [active, setActive] = useState('');
  const [menu, setMenu] = useState<OpenMenu | null>(null);
  const [roomPx, setRoomPx] = useState(0);
  const { session, takes, guide, blend } = view;
  const plan = session.guide?.plan ?? null;
  const bars = useMemo(() => barsOf(plan), [plan]);
  // Jobs, steps and meters change many times a second: only what lanes show makes a new scene.
  // biome-ignore lint/correctness/useExhaustiveDependencies: the parts of `view` that sceneOf reads are listed.
  const scene = useMemo(
    () => sceneOf(view, unfolded, heightsFor(size, countOf(session, unfolded), roomPx), scale, bars),
    [session, takes, guide, blend?.span, blend?.lengthFrames, unfolded, size, roomPx, scale, bars],
  );
  useGhost(stage, scene);
  useOverlay(stage);
  useEffect(() => stage.setScene(scene), [stage, scene]);
  useEffect(() => stage.setFollow(follow), [stage, follow]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: another session is shown whole at first.
  useEffect(() => showWhole(stage), [stage, view.folder]);
  const { body, canvas, line, scroller } = useStage(stage, setActive, setMenu);
  useEffect(() => {
    const seen = scroller.current;
    if (seen === null) return undefined;
    const watch = new ResizeObserver(() => setRoomPx(seen.clientHeight));
    watch.observe(seen);
    return () => watch.disconnect();
  }, [scroller]);

  const fold = useCallback((id: string) => {
    useBench.setState((state) => ({
      unfolded: state.unfolded.includes(id) ? state.unfolded.filter((one) => one !== id) : [...state.unfolded, id],
    }));
  }, []);
  const openMenu = useCallback((lane: Lane, at: DOMRect) => {
    setMenu({ laneKey: lane.key, x: at.left, y: at.bottom });
  }, []);
  const closeMenu = useCallback(() => {
    setMenu((open) => {
      if (open !== null) rowOf(body.current, open.laneKey)?.focus();
      return null;
    });
  }, [body]);

  const inHand = (lane: Lane): boolean =>
    lane.kind === 'voice' ? lane.voice?.id === voiceId : lane.take !== null && lane.take.id === takeId;
  const activeAt = Math.max(
    0,
    scene.lanes.findIndex((lane) => lane.key === active),
  );
  const onKeyDown = (event: React.KeyboardEvent): void => {
    const row = event.target instanceof HTMLElement ? event.target : null;
    if (row?.getAttribute('role') !== 'row') return;
    const did = laneKey(
      {
        stage,
        lanes: scene.lanes,
        at: activeAt,
        goTo: (index) => goTo(body.current, scene.lanes[index], setActive),
        fold,
        openMenu: (lane) =>
          openMenu(lane, row.querySelector('.lanes-more')?.getBoundingClientRect() ?? row.getBoundingClientRect()),
      },
      event,
    );
    if (did) event.preventDefault();
  };
  const menuLane = menu === null ? undefined : [scene.guide, ...scene.lanes].find((lane) => lane.key === menu.laneKey);
  const head = headHeightPx(scene);
  return (
    <section className="lanes" aria-label="Score">
      <LanesTools stage={stage} />
      <div className="lanes-body" ref={body} style={{ '--lanes-head': `${head}px` } as React.CSSProperties}>
        <div aria-hidden="true">
          <canvas className="lanes-canvas" ref={canvas} />
        </div>
        <div className="lanes-head">
          <div className="lanes-head-time" style={{ height: RULER_PX }} title="Minutes and seconds of the piece">
            time
          </div>
          {scene.bars.length > 0 && (
            <div
              className="lanes-head-time"
              style={{ height: BARS_PX }}
              title="Bars of the piece, and beats where there is room"
            >
              bar
            </div>
          )}
          <GuideHead
            stage={stage}
            scene={scene}
            onDown={() => goTo(body.current, scene.lanes[0], setActive)}
            onMenu={openMenu}
          />
        </div>
        <div className="lanes-scroll" ref={scroller}>
          <div
            className="lanes-rows"
            role="treegrid"
            aria-label={`Voices. ${guideInWords(scene)}.`}
            aria-rowcount={scene.lanes.length}
            style={{ height: scene.heightPx }}
            onKeyDown={onKeyDown}
            onFocus={(event) => {
              const key = event.target.closest<HTMLElement>('[data-lane]')?.dataset['lane'];
              if (key !== undefined) setActive(key);
            }}
          >
            {scene.lanes.map((lane, index) => (
              <LaneRow
                key={lane.key}
                lane={lane}
                index={index}
                inHand={inHand(lane)}
                active={index === activeAt}
                unfolded={lane.voice !== null && unfolded.includes(lane.voice.id)}
                onFold={fold}
                onMenu={openMenu}
              />
            ))}
            <Brackets scene={scene} />
          </div>
        </div>
        <div className="lanes-overlay" aria-hidden="true">
          <div className="lanes-line" ref={line} />
        </div>
      </div>
      <div className="lanes-foot">
        <Selected />
        <TimeScrollbar stage={stage} scene={scene} />
      </div>
      {menu === null || menuLane === undefined ? null : (
        <LaneMenu
          title={menuTitle(menuLane)}
          items={laneActions(stage, menuLane, fold, menuLane.voice !== null && unfolded.includes(menuLane.voice.id))}
          x={menu.x}
          y={menu.y}
          onClose={closeMenu}
        />
      )}
    </section>
  );
}

/** The elements of the stage, and everything that listens on them. */
function useStage(stage: LanesStage, setActive: (key: string) => void, setMenu: (menu: OpenMenu) => void) {
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

/** The bracket that joins all voices into one system, and a thin one for the unfolded takes of a voice. */
function Brackets({ scene }: { readonly scene: Scene }) {
  const groups = new Map<string, { top: number; bottom: number }>();
  for (const lane of scene.lanes) {
    if (lane.kind !== 'take' || lane.voice === null) continue;
    const group = groups.get(lane.voice.id) ?? { top: lane.topPx, bottom: 0 };
    groups.set(lane.voice.id, { top: group.top, bottom: lane.topPx + lane.heightPx });
  }
  if (scene.lanes.length === 0) return null;
  return (
    <>
      <div className="lanes-bracket" role="presentation" style={{ height: scene.heightPx - 12 }}>
        <svg viewBox="0 0 10 6" width="10" height="6" aria-hidden="true">
          <path d="M0 6V4C4 4 7 2.5 9.5 0 8 4 5 6 0 6z" />
        </svg>
        <svg viewBox="0 0 10 6" width="10" height="6" aria-hidden="true">
          <path d="M0 0V2C4 2 7 3.5 9.5 6 8 2 5 0 0 0z" />
        </svg>
      </div>
      {[...groups].map(([id, { top, bottom }]) => (
        <div key={id} className="lanes-brace" role="presentation" style={{ top: top + 5, height: bottom - top - 10 }} />
      ))}
    </>
  );
}

function countOf(session: Session, unfolded: readonly string[]): LaneCount {
  const takes = session.takes.filter((take) => unfolded.includes(take.voiceId)).length;
  return { voices: session.voices.length, takes };
}

function menuTitle({ kind, take, voice }: Lane): string {
  if (kind === 'guide') return 'Guide';
  return (kind === 'take' ? take?.name : voice?.name) ?? '';
}

function rowOf(body: HTMLElement | null, key: string): HTMLElement | null {
  return body?.querySelector<HTMLElement>(`[data-lane="${CSS.escape(key)}"]`) ?? null;
}

function goTo(body: HTMLElement | null, lane: Lane | undefined, setActive: (key: string) => void): void {
  if (lane === undefined) return;
  setActive(lane.key);
  const row = rowOf(body, lane.key);
  row?.focus();
  row?.scrollIntoView({ block: 'nearest' });
}
