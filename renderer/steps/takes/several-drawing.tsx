import { type PointerEvent, useRef } from 'react';
import type { SeveralView } from '../../../app/shell/contract/desk-view.ts';
import type { Take } from '../../../core/session/schema.ts';
import { clock } from '../../parts/numbers.ts';
import { edgeRange, type PartDraft } from './part-bounds.ts';

const WIDTH = 960;
const HEIGHT = 72;
/** What an arrow key moves an edge by, s; with Shift ten times as much. */
const STEP_SEC = 0.1;

export interface SeveralDrawingProps {
  readonly take: Take;
  readonly several: SeveralView;
  readonly draft: PartDraft;
  readonly clipSec: number;
  readonly onEdge: (index: number, atSec: number) => void;
}

/** How loud the clip is, its parts, and the edges between them, each a slider. */
export function SeveralDrawing({ take, several, draft, clipSec, onEdge }: SeveralDrawingProps) {
  const box = useRef<HTMLDivElement>(null);
  const share = (sec: number): number => (clipSec > 0 ? sec / clipSec : 0);
  const secAt = (event: PointerEvent): number => {
    const { left, width } = box.current!.getBoundingClientRect();
    return (clipSec * (event.clientX - left)) / Math.max(1, width);
  };
  return (
    <div ref={box} className="several-drawing">
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} preserveAspectRatio="none" aria-hidden="true">
        {draft.used.map((isUsed, n) => {
          const x = WIDTH * share(draft.edgesSec[n]!);
          const width = WIDTH * share(draft.edgesSec[n + 1]!) - x;
          return (
            <rect
              // biome-ignore lint/suspicious/noArrayIndexKey: parts stay in their order.
              key={n}
              className={isUsed ? 'several-band' : 'several-band several-band-out'}
              x={x}
              y={0}
              width={Math.max(0, width)}
              height={HEIGHT}
            />
          );
        })}
        <path className="several-outline" d={outlinePath(several.outline)} />
      </svg>
      {several.parts.map((part, n) => (
        <span
          key={part.beginsSec}
          className={`several-number ${draft.used[n] ? '' : 'several-unused'}`}
          style={{ left: `${100 * share((draft.edgesSec[n]! + draft.edgesSec[n + 1]!) / 2)}%` }}
          aria-hidden="true"
        >
          {n + 1}
        </span>
      ))}
      {draft.edgesSec.map((atSec, n) => (
        <Edge
          // biome-ignore lint/suspicious/noArrayIndexKey: an edge that is moved stays the same one, and keeps the focus.
          key={n}
          name={edgeName(take.name, n, draft.edgesSec.length)}
          left={share(atSec)}
          atSec={atSec}
          range={edgeRange(draft, n, clipSec)}
          secAt={secAt}
          onMove={(sec) => onEdge(n, sec)}
        />
      ))}
    </div>
  );
}

interface EdgeProps {
  readonly name: string;
  /** Where it stands, 0 to 1 of the picture. */
  readonly left: number;
  readonly atSec: number;
  readonly range: { readonly min: number; readonly max: number };
  readonly secAt: (event: PointerEvent) => number;
  readonly onMove: (atSec: number) => void;
}

/** An edge between two parts, dragged or moved by the arrow keys. */
function Edge({ name, left, atSec, range, secAt, onMove }: EdgeProps) {
  return (
    <div
      className="several-edge"
      style={{ left: `${100 * left}%` }}
      role="slider"
      tabIndex={0}
      aria-label={name}
      aria-valuemin={Math.round(100 * range.min) / 100}
      aria-valuemax={Math.round(100 * range.max) / 100}
      aria-valuenow={atSec}
      aria-valuetext={clock(atSec, 1)}
      onPointerDown={(event) => {
        event.preventDefault();
        event.currentTarget.focus();
        event.currentTarget.setPointerCapture(event.pointerId);
      }}
      onPointerMove={(event) => {
        if (event.currentTarget.hasPointerCapture(event.pointerId)) onMove(secAt(event));
      }}
      onKeyDown={(event) => {
        const sense = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
        if (sense === undefined) return;
        event.preventDefault();
        event.stopPropagation();
        onMove(atSec + sense * STEP_SEC * (event.shiftKey ? 10 : 1));
      }}
    />
  );
}

function edgeName(name: string, n: number, count: number): string {
  if (n === 0) return `Beginning of the first take of ${name}`;
  return n === count - 1 ? `End of the last take of ${name}` : `Bound between takes ${n} and ${n + 1} of ${name}`;
}

/** The outline above and below a middle line. */
function outlinePath(outline: readonly number[]): string {
  const half = HEIGHT / 2;
  const point = (value: number, n: number, sense: number): string =>
    `${((WIDTH * n) / Math.max(1, outline.length - 1)).toFixed(1)} ${(half - sense * Math.max(0.4, 0.92 * half * value)).toFixed(1)}`;
  const upper = outline.map((value, n) => point(value, n, 1));
  const lower = outline.map((value, n) => point(value, n, -1)).reverse();
  return outline.length === 0 ? '' : `M${[...upper, ...lower].join('L')}Z`;
}
