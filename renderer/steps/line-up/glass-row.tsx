import { type KeyboardEvent, type ReactNode, useEffect, useRef } from 'react';
import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Lie } from '../drawing/take-time.ts';
import { penOf, useThemeTurn } from '../drawing/use-width.ts';
import { columnsOf, runAround } from './clap-window.ts';
import { useSamples } from './claps.tsx';
import { paintMiddle, paintSound } from './magnified-sound.ts';

const HEIGHT = 74;
/** Sound softer than this is drawn as soft as it is. */
const LEAST_FULL = 0.004;
/** A press that moves less than that is a click, CSS pixels. */
const CLICK_PX = 3;

interface GlassRowProps {
  /** A take's id, or 'guide'. */
  readonly source: string;
  readonly name: ReactNode;
  readonly lie: Lie | null;
  readonly facts: TakeFacts;
  readonly atSec: number;
  readonly halfSec: number;
  readonly width: number;
  readonly colour: string;
  /** A press moved to this many seconds from where it began (positive: to the right); null: it ended without. */
  readonly onDrag?: (bySec: number, began: boolean) => void;
  /** A click, so many seconds right of the middle. */
  readonly onClick: (bySec: number) => void;
  readonly slider?: {
    readonly label: string;
    readonly ms: number;
    readonly words: string;
    readonly onKey: (event: KeyboardEvent) => void;
  };
}

/** One sound of the pair under the glass. */
export function GlassRow(props: GlassRowProps) {
  const { source, name, lie, facts, atSec, halfSec, width, colour, onDrag, onClick, slider } = props;
  const run = runAround(atSec, lie, facts.rateHz, facts.lengthSec);
  const samples = useSamples(source, run?.from ?? 0, run?.count ?? 0);
  const canvas = useRef<HTMLCanvasElement>(null);
  const press = useRef<{ x: number; dragged: boolean } | null>(null);
  const turn = useThemeTurn();
  const runFrom = run?.from ?? 0;
  // biome-ignore lint/correctness/useExhaustiveDependencies: a turn of the theme repaints
  useEffect(() => {
    const pen = canvas.current === null ? undefined : penOf(canvas.current, width, HEIGHT);
    if (pen === undefined) return;
    paintMiddle(pen, width, HEIGHT);
    if (samples === null || run === undefined) return;
    const window = { fromSec: atSec - halfSec, toSec: atSec + halfSec };
    const pairs = columnsOf(samples, { from: runFrom, count: samples.length }, facts.rateHz, lie, window, width);
    paintSound(pen, pairs, HEIGHT, LEAST_FULL);
  }, [samples, runFrom, facts.rateHz, lie, atSec, halfSec, width, turn]);
  const secondsOf = (px: number): number => (px / width) * 2 * halfSec;
  return (
    <div className="glass-row">
      <span className="glass-row-name" style={{ borderLeftColor: colour }}>
        {name}
      </span>
      <div
        className={onDrag === undefined ? 'glass-row-sound' : 'glass-row-sound glass-row-moves'}
        style={{ width, height: HEIGHT }}
        {...(slider === undefined
          ? {}
          : {
              role: 'slider',
              tabIndex: 0,
              'aria-label': slider.label,
              'aria-valuenow': Math.round(100 * slider.ms) / 100,
              'aria-valuemin': -100000,
              'aria-valuemax': 100000,
              'aria-valuetext': slider.words,
              onKeyDown: slider.onKey,
            })}
        onPointerDown={(event) => {
          event.currentTarget.setPointerCapture(event.pointerId);
          press.current = { x: event.clientX, dragged: false };
        }}
        onPointerMove={(event) => {
          const pressed = press.current;
          if (pressed === null || onDrag === undefined) return;
          const byPx = event.clientX - pressed.x;
          if (!pressed.dragged && Math.abs(byPx) < CLICK_PX) return;
          onDrag(secondsOf(byPx), !pressed.dragged);
          pressed.dragged = true;
        }}
        onPointerUp={(event) => {
          const pressed = press.current;
          press.current = null;
          if (pressed === null || pressed.dragged) return;
          const left = event.currentTarget.getBoundingClientRect().left;
          onClick(secondsOf(event.clientX - left - width / 2));
        }}
        onPointerCancel={() => {
          press.current = null;
        }}
      >
        <canvas ref={canvas} style={{ width, height: HEIGHT }} />
        {run === undefined ? <span className="glass-row-none">No sound here.</span> : null}
      </div>
    </div>
  );
}
