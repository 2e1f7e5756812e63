import { useEffect, useRef } from 'react';
import type { SpanView } from '../../app/shell/contract/desk-view.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { useBench } from '../desk/bench-store.ts';
import { useDesk } from '../desk/desk-store.ts';
import { figure } from '../parts/numbers.ts';
import { stretchInBars } from './bar-map.ts';
import type { WaveScale } from './lane-content.ts';
import type { LaneSize } from './lane-heights.ts';
import { spanInWords } from './lane-words.ts';
import { setLanesPrefs, useLanesPrefs } from './lanes-prefs.ts';
import type { LanesStage } from './lanes-stage.ts';
import { nowAndThen } from './now-and-then.ts';
import { playbackFrame } from './the-player.ts';
import {
  closeness,
  type Follow,
  framesPerPxAt,
  kept,
  pixelOf,
  showing,
  wholeFramesPerPx,
  zoomedAt,
} from './time-view.ts';

/** The slider follows a zoom by wheel so often. */
const SHOWN_EVERY_MS = 60;

/** What is brought into view is at least so wide, and this wide once it was zoomed to, CSS pixels. */
const LEAST_SHOWN_PX = 8;
const SHOWN_PX = 90;

/** Zoom one step: four steps are a tenfold. */
export const ZOOM_STEP = 10 ** 0.25;

/** Zooms around the playback line where it is in view, else around the middle. */
export function zoomBy(stage: LanesStage, factor: number): void {
  const scene = stage.getScene();
  if (scene === undefined) return;
  const view = stage.getView();
  const x = pixelOf(view, playbackFrame());
  stage.setView(zoomedAt(view, scene.extent, x >= 0 && x <= view.widthPx ? x : view.widthPx / 2, factor));
}

export function showWhole(stage: LanesStage): void {
  stage.setView({ ...stage.getView(), framesPerPx: Number.POSITIVE_INFINITY });
}

/** Brings a stretch into view without changing the zoom; where it has no room or would be but a line, zooms to it. */
export function bringIntoView(stage: LanesStage, stretch: SpanView): void {
  const scene = stage.getScene();
  if (scene === undefined) return;
  const view = stage.getView();
  const fromFrame = stretch.fromSec * SESSION_RATE_HZ;
  const toFrame = stretch.toSec * SESSION_RATE_HZ;
  const widthPx = (toFrame - fromFrame) / view.framesPerPx;
  if (widthPx > view.widthPx || widthPx < LEAST_SHOWN_PX) {
    const reach = (0.5 * (toFrame - fromFrame) * view.widthPx) / SHOWN_PX;
    const middle = (fromFrame + toFrame) / 2;
    stage.setView(showing(view, scene.extent, middle - reach, middle + reach));
  } else if (pixelOf(view, fromFrame) < 0 || pixelOf(view, toFrame) > view.widthPx) {
    stage.setView(
      kept({ ...view, leftFrame: (fromFrame + toFrame - view.widthPx * view.framesPerPx) / 2 }, scene.extent),
    );
  }
}

/** Zoom, following, and how lanes look. */
export function LanesTools({ stage }: { readonly stage: LanesStage }) {
  const prefs = useLanesPrefs();
  return (
    <div className="lanes-tools" role="toolbar" aria-label="View of the lanes">
      <ZoomControl stage={stage} />
      <Choice<Follow>
        label="Follow"
        title="Whether the view goes along while the piece is played"
        value={prefs.follow}
        options={{ off: 'off', pages: 'by pages', smoothly: 'smoothly' }}
        onChange={(follow) => setLanesPrefs({ follow })}
      />
      <Choice<LaneSize>
        label="Lanes"
        title="How tall the lanes are; all: every voice in view at once, where there is room"
        value={prefs.size}
        options={{ fit: 'all in view', low: 'low', middle: 'middle', tall: 'tall' }}
        onChange={(size) => setLanesPrefs({ size })}
      />
      <Choice<WaveScale>
        label="Waves"
        title="Levelled: every take's music fills its lane, however softly it was recorded. As recorded: the lane is full scale."
        value={prefs.scale}
        options={{ levelled: 'levelled', asRecorded: 'as recorded' }}
        onChange={(scale) => setLanesPrefs({ scale })}
      />
    </div>
  );
}

/** What is selected, in words; it has its place beside the scrollbar, so that nothing moves when it appears. */
export function Selected() {
  const stretch = useBench((state) => state.stretch);
  const plan = useDesk((state) => state.view?.session.guide?.plan ?? null);
  const inBars = stretch === null || plan === null ? '' : stretchInBars(plan, stretch);
  const lengthSec = stretch === null ? 0 : stretch.toSec - stretch.fromSec;
  const isShort = lengthSec < 1;
  const inSec =
    stretch === null
      ? ''
      : `${spanInWords(stretch, isShort ? 4 : 2)}, ${isShort ? `${figure(1000 * lengthSec, 1)} ms` : `${figure(lengthSec, 2)} s`}`;
  // There is room for one of both.
  return (
    <span
      className="lanes-selected"
      role="status"
      title={`The selected stretch: ${inBars === '' ? '' : `${inBars}; `}${inSec}`}
    >
      {inBars === '' ? inSec : inBars}
      {inBars !== '' && <span className="unseen">; {inSec}</span>}
    </span>
  );
}

function ZoomControl({ stage }: { readonly stage: LanesStage }) {
  const slider = useRef<HTMLInputElement>(null);
  // Written past React, and not in every frame of a zoom by wheel.
  useEffect(() => {
    const show = nowAndThen(() => {
      const view = stage.getView();
      const scene = stage.getScene();
      if (slider.current === null || scene === undefined || view.widthPx <= 0) return;
      slider.current.value = String(closeness(view.framesPerPx, wholeFramesPerPx(scene.extent, view.widthPx)));
      slider.current.setAttribute('aria-valuetext', zoomInWords(stage));
    }, SHOWN_EVERY_MS);
    const stop = stage.onView(show.wish);
    return () => {
      stop();
      show.stop();
    };
  }, [stage]);
  const zoomTo = (wanted: number): void => {
    const scene = stage.getScene();
    if (scene === undefined) return;
    const view = stage.getView();
    const framesPerPx = framesPerPxAt(wanted, wholeFramesPerPx(scene.extent, view.widthPx));
    zoomBy(stage, view.framesPerPx / framesPerPx);
  };
  return (
    <div className="lanes-zoom">
      <button type="button" aria-label="Zoom out" title="Zoom out (−)" onClick={() => zoomBy(stage, 1 / ZOOM_STEP)}>
        −
      </button>
      <input
        type="range"
        min="0"
        max="1"
        step="0.005"
        defaultValue="0"
        ref={slider}
        aria-label="Zoom"
        onChange={(event) => zoomTo(Number(event.currentTarget.value))}
      />
      <button type="button" aria-label="Zoom in" title="Zoom in (+)" onClick={() => zoomBy(stage, ZOOM_STEP)}>
        +
      </button>
      <button type="button" title="Show the whole piece (0)" onClick={() => showWhole(stage)}>
        whole piece
      </button>
    </div>
  );
}

/** How much of the piece fills the view: "2 min 5 s in view". */
function zoomInWords(stage: LanesStage): string {
  const view = stage.getView();
  const sec = (view.framesPerPx * view.widthPx) / 48000;
  if (sec >= 60) return `${Math.floor(sec / 60)} min ${Math.round(sec % 60)} s in view`;
  if (sec >= 1) return `${sec.toFixed(1)} s in view`;
  return `${(1000 * sec).toFixed(1)} ms in view`;
}

interface ChoiceProps<Value extends string> {
  readonly label: string;
  readonly title: string;
  readonly value: Value;
  readonly options: Readonly<Record<Value, string>>;
  readonly onChange: (value: Value) => void;
}

function Choice<Value extends string>({ label, title, value, options, onChange }: ChoiceProps<Value>) {
  return (
    <label className="lanes-choice" title={title}>
      <span>{label}</span>
      <select value={value} onChange={(event) => onChange(event.currentTarget.value as Value)}>
        {(Object.keys(options) as Value[]).map((key) => (
          <option key={key} value={key}>
            {options[key]}
          </option>
        ))}
      </select>
    </label>
  );
}
