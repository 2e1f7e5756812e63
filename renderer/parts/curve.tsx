import { useId } from 'react';
import { evenScale, evenTicks } from '../steps/drawing/axes.ts';
import { useWidth } from '../steps/drawing/use-width.ts';
import { clock, figure } from './numbers.ts';
import './curve.css';

export interface CurveProps {
  readonly title: string;
  /** The curve in a sentence, for people who do not see it. */
  readonly description: string;
  /** Values at even steps of time; null where there is none. */
  readonly values: readonly (number | null)[];
  readonly stepSec: number;
  /** Range of the upright axis. */
  readonly low: number;
  readonly high: number;
  readonly unit: string;
  /** A level line with its name. */
  readonly line?: { readonly value: number; readonly name: string };
  readonly height?: number;
}

const LEFT = 40;
const RIGHT = 12;
const TOP = 22;
const BOTTOM = 22;

/** A curve over time, with its axes and a level line. */
export function Curve(props: CurveProps) {
  const { title, description, values, stepSec, low, high, unit, line, height = 170 } = props;
  const id = useId();
  const [frame, width] = useWidth<HTMLDivElement>(480);
  const lengthSec = Math.max(stepSec, values.length * stepSec);
  const x = evenScale(0, lengthSec, LEFT, width - RIGHT);
  const y = evenScale(low, high, height - BOTTOM, TOP);
  const inside = (value: number): number => y(Math.max(low, Math.min(high, value)));
  return (
    <div ref={frame} className="curve">
      <svg
        width={width}
        height={height}
        viewBox={`0 0 ${width} ${height}`}
        role="img"
        aria-labelledby={`${id}-t ${id}-d`}
      >
        <title id={`${id}-t`}>{title}</title>
        <desc id={`${id}-d`}>{description}</desc>
        {evenTicks(low, high, Math.floor(height / 34)).map((value) => (
          <g key={value}>
            <line x1={LEFT} x2={width - RIGHT} y1={y(value)} y2={y(value)} className="curve-rule" />
            <text x={LEFT - 6} y={y(value) + 4} textAnchor="end" className="curve-words">
              {figure(value, 0)}
            </text>
          </g>
        ))}
        {timeTicks(lengthSec, Math.floor(width / 90)).map((sec) => (
          <text key={sec} x={x(sec)} y={height - 6} textAnchor={sec === 0 ? 'start' : 'middle'} className="curve-words">
            {clock(sec, 0)}
          </text>
        ))}
        <text x={LEFT - 6} y={11} textAnchor="end" className="curve-words">
          {unit}
        </text>
        <path d={curvePath(values, (at) => x((at + 0.5) * stepSec), inside)} className="curve-line" />
        {line !== undefined && (
          <>
            <line
              x1={LEFT}
              x2={width - RIGHT}
              y1={inside(line.value)}
              y2={inside(line.value)}
              className="curve-level"
            />
            <text
              x={width - RIGHT}
              y={inside(line.value) - 5}
              textAnchor="end"
              className="curve-words curve-level-words"
            >
              {line.name}
            </text>
          </>
        )}
      </svg>
    </div>
  );
}

/** An SVG path through values at even steps, broken where there is none. */
export function curvePath(
  values: readonly (number | null)[],
  x: (at: number) => number,
  y: (value: number) => number,
): string {
  let path = '';
  let isDown = false;
  values.forEach((value, at) => {
    if (value === null || !Number.isFinite(value)) {
      isDown = false;
      return;
    }
    path += `${isDown ? 'L' : 'M'}${x(at).toFixed(1)} ${y(value).toFixed(1)}`;
    isDown = true;
  });
  return path;
}

const STEPS_SEC = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200, 3600];

/** Times to write below an axis, s: at most `most`, at round steps. */
export function timeTicks(lengthSec: number, most: number): number[] {
  const step = STEPS_SEC.find((one) => lengthSec / one <= Math.max(1, most)) ?? 3600;
  return Array.from({ length: Math.floor(lengthSec / step) + 1 }, (_, n) => n * step);
}
