import { type Against, type CurveLine, MOST_RESIDUAL_SEC, type OffsetCurve } from './offset-curve.ts';

/** Spans of the upright axis to each side of its middle, ms. */
const HALVES = [1, 2, 5, 15, 25, 50, 100, 200, 500, 1000, 2000, 5000] as const;
/** At first the line of 10 ms is in view. */
const FIRST_HALF_MS = 15;
/** The line has room above and below it, for words and for what lies around it. */
const HEADROOM = 1.6;
/** Share of the accepted points that must be in view at first: a few far ones may be drawn at the edge. */
const SEEN_SHARE = 0.97;

/** What the upright axis spans, ms. */
export interface MsRange {
  readonly lowMs: number;
  readonly highMs: number;
}

/**
 * What the upright axis spans: around 0 against the place, around the middle of the line against an even clock; all of the
 * line and nearly all accepted points. closer: steps closer (positive) or wider than that.
 */
export function msRange(
  curve: OffsetCurve,
  against: Against,
  closer: number,
): MsRange & { readonly canCloser: boolean; readonly canWider: boolean } {
  const ends = [...curve.place, ...(against === 'place' ? [] : curve.found)].flatMap(({ fromMs, toMs }) => [
    fromMs,
    toMs,
  ]);
  const middle = against === 'place' || ends.length === 0 ? 0 : (Math.min(...ends) + Math.max(...ends)) / 2;
  const accepted = curve.points.filter((one) => one.accepted).map((one) => Math.abs(one.offMs - middle));
  accepted.sort((a, b) => a - b);
  const farthest = accepted[Math.ceil(SEEN_SHARE * accepted.length) - 1] ?? 0;
  const needed = Math.max(FIRST_HALF_MS, 1.08 * farthest, ...ends.map((ms) => HEADROOM * Math.abs(ms - middle)));
  const fitting = HALVES.findIndex((half) => half >= needed);
  const first = fitting < 0 ? HALVES.length - 1 : fitting;
  const at = Math.max(0, Math.min(HALVES.length - 1, first - closer));
  const half = HALVES[at]!;
  return { lowMs: middle - half, highMs: middle + half, canCloser: at > 0, canWider: at < HALVES.length - 1 };
}

/** An SVG path around straight pieces, `reachMs` to both sides: a band that goes along with the clock. */
export function bandPath(
  lines: readonly CurveLine[],
  reachMs: number,
  x: (sec: number) => number,
  y: (ms: number) => number,
): string {
  const at = (sec: number, ms: number): string => `${x(sec).toFixed(1)} ${y(ms).toFixed(1)}`;
  return lines
    .map(
      ({ fromSec, toSec, fromMs, toMs }) =>
        `M${at(fromSec, fromMs + reachMs)}L${at(toSec, toMs + reachMs)}L${at(toSec, toMs - reachMs)}L${at(fromSec, fromMs - reachMs)}Z`,
    )
    .join('');
}

/** An SVG path along straight pieces, moved by `byMs`; jumps are joined by an upright where `joined`. */
export function linePath(
  lines: readonly CurveLine[],
  byMs: number,
  x: (sec: number) => number,
  y: (ms: number) => number,
  joined: boolean,
): string {
  return lines
    .map(
      ({ fromSec, toSec, fromMs, toMs }, n) =>
        `${n > 0 && joined ? 'L' : 'M'}${x(fromSec).toFixed(1)} ${y(fromMs + byMs).toFixed(1)}L${x(toSec).toFixed(1)} ${y(toMs + byMs).toFixed(1)}`,
    )
    .join('');
}

/** The line at which it is warned, ms to each side of the place. */
export const WARN_MS = 1000 * MOST_RESIDUAL_SEC;

/** The sign of a kind of witness as an SVG path around a point, `size` px from its middle to its edge: told apart without colour. */
export function witnessSign(kind: string, x: number, y: number, size: number): string {
  const n = (value: number): string => String(Math.round(value * 100) / 100);
  const at = `M${n(x)} ${n(y)}`;
  const s = size;
  switch (kind) {
    case 'clap':
      return `${at}m0 ${n(-s)}l${n(s)} ${n(1.8 * s)}h${n(-2 * s)}Z`;
    case 'onsets':
      return `${at}m0 ${n(-1.2 * s)}l${n(1.2 * s)} ${n(1.2 * s)}l${n(-1.2 * s)} ${n(1.2 * s)}l${n(-1.2 * s)} ${n(-1.2 * s)}Z`;
    case 'mutual':
      return `${at}m${n(-0.9 * s)} ${n(-0.9 * s)}h${n(1.8 * s)}v${n(1.8 * s)}h${n(-1.8 * s)}Z`;
    case 'user':
      return `${at}l${n(1.3 * s)} ${n(-2 * s)}h${n(-2.6 * s)}Z`;
    default:
      return `${at}m${n(-s)} 0a${n(s)} ${n(s)} 0 1 0 ${n(2 * s)} 0a${n(s)} ${n(s)} 0 1 0 ${n(-2 * s)} 0Z`;
  }
}

/** What a kind of witness is called in a legend. */
export function witnessName(kind: string): string {
  switch (kind) {
    case 'clap':
      return 'clap';
    case 'bleed':
      return 'guide heard in the take';
    case 'onsets':
      return 'notes against the guide';
    case 'mutual':
      return 'notes against other voices';
    case 'user':
      return 'your pin';
    default:
      return kind;
  }
}
