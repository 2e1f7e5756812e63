import { type KeyboardEvent, type PointerEvent, useRef } from 'react';
import { useBench } from '../../desk/bench-store.ts';
import { edit } from '../../desk/desk-store.ts';
import { colourNames, voiceColour } from '../../parts/voice-colours.ts';
import { nextGesture } from '../drawing/gesture.ts';
import { useWidth, useWindowHeight } from '../drawing/use-width.ts';
import {
  degreesAt,
  heldDegrees,
  markPath,
  placeWords,
  ringsOf,
  type StageFrame,
  spotAt,
  stageFrame,
} from './stage-geometry.ts';
import type { BlendedVoice } from './voices-in-blend.ts';
import './stage.css';

/** Size of a mark and distance of the rings, px; smaller where many voices stand. */
const MARK = 13;
const SMALL_MARK = 12;
const MANY = 16;
/** The stage takes this share of the window's height, within bounds, px. */
const SHARE = 0.33;
const LEAST_HEIGHT = 190;
const MOST_HEIGHT = 360;
const GRID = [-90, -60, -30, 0, 30, 60, 90];

/** The stage from above: the listener below, the voices before him on one arc. Marks can be dragged or moved with arrow keys. */
export function Stage({ voices }: { readonly voices: readonly BlendedVoice[] }) {
  const [box, width] = useWidth<HTMLDivElement>(460);
  const picture = useRef<SVGSVGElement>(null);
  const mostHeight = Math.max(LEAST_HEIGHT, Math.min(MOST_HEIGHT, SHARE * useWindowHeight()));
  const mark = voices.length > MANY ? SMALL_MARK : MARK;
  const ring = 2.4 * mark;
  const most = Math.max(1, Math.min(4, Math.ceil(voices.length / 6)));
  const frame = stageFrame(width, mostHeight, (most - 1) * ring);
  const apart = (2.4 * mark * 180) / (Math.PI * frame.radius);
  const rings = ringsOf(
    voices.map((one) => one.placeDeg),
    apart,
    most,
  );
  return (
    <div className="stage" ref={box}>
      {/* biome-ignore lint/a11y/useSemanticElements: a drawing cannot be a fieldset */}
      <svg ref={picture} width={frame.width} height={frame.height} role="group" aria-label="Stage seen from above">
        <Floor frame={frame} />
        {voices.map((one, n) => (
          <Mark key={one.voice.id} one={one} out={rings[n]! * ring} mark={mark} frame={frame} picture={picture} />
        ))}
      </svg>
      <p className="stage-hint">
        Drag a voice along the arc, or press the arrow keys on it (1°; Page keys 10°). A sign outside the arc is drawn
        there only to make room for its neighbour.
      </p>
    </div>
  );
}

function Floor({ frame }: { readonly frame: StageFrame }) {
  const left = spotAt(frame, -90);
  const right = spotAt(frame, 90);
  return (
    // biome-ignore lint/a11y/noAriaHiddenOnFocusable: nothing of the floor takes the focus
    <g className="stage-floor" aria-hidden="true">
      <path
        className="stage-boards"
        d={`M${left.x} ${left.y}A${frame.radius} ${frame.radius} 0 0 1 ${right.x} ${right.y}Z`}
      />
      {GRID.map((degrees) => {
        const inner = spotAt(frame, degrees, 26 - frame.radius);
        const outer = spotAt(frame, degrees);
        const words = spotAt(frame, degrees, -34);
        return (
          <g key={degrees}>
            <line x1={inner.x} y1={inner.y} x2={outer.x} y2={outer.y} />
            <text
              x={words.x + (degrees === 0 ? 0 : degrees < 0 ? 4 : -4)}
              y={words.y + (Math.abs(degrees) === 90 ? -6 : 4)}
              textAnchor="middle"
            >
              {Math.abs(degrees)}°
            </text>
          </g>
        );
      })}
      <path
        className="stage-arc"
        d={`M${left.x} ${left.y}A${frame.radius} ${frame.radius} 0 0 1 ${right.x} ${right.y}`}
      />
      <g transform={`translate(${frame.middleX} ${frame.middleY})`}>
        <ellipse className="stage-listener" rx="8" ry="9" />
        <path className="stage-listener" d="M-3 -8.5L0 -13L3 -8.5" />
        <text y="25" textAnchor="middle">
          you
        </text>
      </g>
      <text x={left.x} y={left.y + 22} textAnchor="middle">
        left
      </text>
      <text x={right.x} y={right.y + 22} textAnchor="middle">
        right
      </text>
    </g>
  );
}

interface MarkProps {
  readonly one: BlendedVoice;
  /** How far beyond the arc it stands, and its size, px. */
  readonly out: number;
  readonly mark: number;
  readonly frame: StageFrame;
  readonly picture: React.RefObject<SVGSVGElement | null>;
}

function Mark({ one, out, mark, frame, picture }: MarkProps) {
  const { voice, placeDeg, initials } = one;
  const inHand = useBench((state) => state.voiceId === voice.id);
  const drag = useRef<number | null>(null);
  const gesture = useRef(0);
  const spot = spotAt(frame, placeDeg);
  const stands = spotAt(frame, placeDeg, out);
  const move = (degrees: number): void => {
    const held = heldDegrees(degrees);
    if (held !== placeDeg || voice.placeDeg === null) {
      edit({ kind: 'setPlace', voiceId: voice.id, placeDeg: held }, `place:${voice.id}:${gesture.current}`);
    }
  };
  const degreesOf = (event: PointerEvent): number => {
    const at = picture.current!.getBoundingClientRect();
    return degreesAt(frame, event.clientX - at.left, event.clientY - at.top);
  };
  const silent = voice.muted || one.found?.leftOut === true;
  return (
    <g
      className={`stage-mark${inHand ? ' stage-mark-in-hand' : ''}${silent ? ' stage-mark-silent' : ''}`}
      role="slider"
      tabIndex={0}
      aria-label={`Place of ${voice.name}${silent ? ', muted' : ''}`}
      aria-orientation="horizontal"
      aria-valuemin={-90}
      aria-valuemax={90}
      aria-valuenow={Math.round(placeDeg)}
      aria-valuetext={placeWords(placeDeg)}
      onFocus={() => {
        gesture.current = nextGesture();
        useBench.setState({ voiceId: voice.id });
      }}
      onPointerDown={(event) => {
        event.currentTarget.setPointerCapture(event.pointerId);
        event.currentTarget.focus();
        gesture.current = nextGesture();
        // Where the hand takes hold beside the middle of the mark, the mark must not jump there.
        drag.current = degreesOf(event) - placeDeg;
      }}
      onPointerMove={(event) => drag.current !== null && event.buttons > 0 && moveBy(event)}
      onPointerUp={() => {
        drag.current = null;
      }}
      onPointerCancel={() => {
        drag.current = null;
      }}
      onKeyDown={(event) => {
        const to = afterKey(event, placeDeg);
        if (to === undefined) return;
        event.preventDefault();
        event.stopPropagation();
        move(to);
      }}
    >
      <title>
        {voice.name}: {placeWords(placeDeg)}
      </title>
      {out > 0 ? <line className="stage-tie" x1={spot.x} y1={spot.y} x2={stands.x} y2={stands.y} /> : null}
      <circle className="stage-spot" cx={spot.x} cy={spot.y} r="2.5" />
      <g transform={`translate(${stands.x} ${stands.y})`}>
        <circle className="stage-ring" r={mark + 5} />
        <path
          className="stage-shape"
          d={markPath(voice.colour, mark)}
          style={{ stroke: voiceColour(voice.colour) }}
          data-colour={colourNames[voice.colour]}
        />
        <text textAnchor="middle" y={mark * 0.3} style={{ fontSize: mark * 0.85 }}>
          {initials}
        </text>
        {silent ? <path className="stage-mute" d={`M${-mark - 2} ${mark + 2}L${mark + 2} ${-mark - 2}`} /> : null}
      </g>
    </g>
  );

  function moveBy(event: PointerEvent): void {
    move(degreesOf(event) - drag.current!);
  }
}

function afterKey(event: KeyboardEvent, degrees: number): number | undefined {
  switch (event.key) {
    case 'ArrowLeft':
    case 'ArrowDown':
      return degrees - 1;
    case 'ArrowRight':
    case 'ArrowUp':
      return degrees + 1;
    case 'PageDown':
      return degrees - 10;
    case 'PageUp':
      return degrees + 10;
    case 'Home':
      return -90;
    case 'End':
      return 90;
    default:
      return undefined;
  }
}
