import { type CurvePoint, offsetCurve } from '../../../core/session/offset-curve.ts';
import {
  bandPath,
  linePath,
  msRange,
  WARN_MS,
  witnessName,
  witnessSign,
} from '../../../core/session/offset-drawing.ts';
import type { PlacementReport } from '../../../core/session/report.ts';
import { clockText } from '../../../core/signal/time.ts';
import { px, wholeTimes } from './markup.ts';

const WIDTH = 1120;
const HEIGHT = 210;
const LEFT = 58;
const RIGHT = 8;
const TOP = 10;
const BOTTOM = 30;
const SIGN_PX = 3.6;
/** Rules of the upright axis to each side of its middle. */
const RULES = [-1, -0.5, 0, 0.5, 1];

/**
 * A take's offset over time as a picture of its own: what each witness heard along the take against its place, the place as a
 * line, where its clock changes, and the lines of 10 ms. '' where nothing was kept of what was heard.
 * lengthSec: of the take.
 */
export function offsetChart(placement: PlacementReport, lengthSec: number): string {
  const curve = offsetCurve(placement, lengthSec, 'place');
  if (!curve.isHeard) return '';
  const range = msRange(curve, 'place', 0);
  const half = range.highMs;
  const x = (sec: number): number =>
    LEFT + ((sec - curve.fromSec) / Math.max(1, curve.toSec - curve.fromSec)) * (WIDTH - LEFT - RIGHT);
  const y = (ms: number): number =>
    TOP + ((half - Math.max(-half, Math.min(half, ms))) / (2 * half)) * (HEIGHT - TOP - BOTTOM);
  const rules = RULES.map((share) => {
    const ms = share * half;
    const words = `${ms < 0 ? '−' : ms > 0 ? '+' : ''}${px(Math.abs(ms))} ms`;
    return `<line class="staff" x1="${LEFT}" x2="${WIDTH - RIGHT}" y1="${px(y(ms))}" y2="${px(y(ms))}"/><text class="faint" x="${LEFT - 6}" y="${px(y(ms) + 4)}" text-anchor="end">${words}</text>`;
  }).join('');
  const times = wholeTimes(curve.toSec)
    .filter((sec) => sec >= curve.fromSec)
    .map(
      (sec) => `<text class="faint" x="${px(x(sec))}" y="${HEIGHT - 10}" text-anchor="middle">${clockText(sec)}</text>`,
    )
    .join('');
  const band =
    curve.residualMs === null ? '' : `<path class="quiet" d="${bandPath(curve.place, curve.residualMs, x, y)}"/>`;
  const warn =
    half < WARN_MS
      ? ''
      : [WARN_MS, -WARN_MS]
          .map((ms) => `<path class="target" fill="none" d="${linePath(curve.place, ms, x, y, false)}"/>`)
          .join('');
  const bends = curve.bends
    .map(({ atSec, words }, n) => {
      const isLeft = x(atSec) > WIDTH / 2;
      return `<g class="mark"><line x1="${px(x(atSec))}" x2="${px(x(atSec))}" y1="${TOP}" y2="${HEIGHT - BOTTOM}"/></g><text x="${px(x(atSec) + (isLeft ? -4 : 4))}" y="${TOP + 11 + 13 * (n % 2)}" text-anchor="${isLeft ? 'end' : 'start'}">${words}</text>`;
    })
    .join('');
  const kinds = [...new Set(curve.points.map((one) => one.kind))];
  const legend = [
    ...kinds.map((kind) => `${SIGN_WORDS[kind] ?? 'dot'}: ${witnessName(kind)}`),
    'hollow: set aside',
  ].join('; ');
  return `<figure><svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="Offset of the take over time against its place">
${band}${rules}${times}${warn}<path class="frame" d="${linePath(curve.place, 0, x, y, true)}"/>${bends}${curve.points.map((one) => moment(one, x, y, half)).join('')}</svg>
<figcaption>Offset over session time: how much later (+) or earlier each moment that was heard would have the take than its place; ${legend}. ${curve.residualMs === null ? '' : `Shaded: any moment is thought to lie within ${curve.residualMs.toFixed(1)} ms. `}${warn === '' ? '' : `Dashed: ${WARN_MS} ms.`}</figcaption></figure>`;
}

/** What the signs look like, in words. */
const SIGN_WORDS: Readonly<Record<string, string>> = {
  clap: 'triangle',
  bleed: 'dot',
  onsets: 'diamond',
  mutual: 'square',
  user: 'triangle upside down',
};

function moment(point: CurvePoint, x: (sec: number) => number, y: (ms: number) => number, half: number): string {
  const at = x(point.atSec);
  const off = y(point.offMs);
  const look = point.accepted ? 'witness' : 'witness aside';
  if (Math.abs(point.offMs) > half) {
    return `<path class="${look}" d="M${px(at)} ${px(off)}l-4 ${point.offMs > 0 ? 8 : -8}h8Z"/>`;
  }
  const from = px(y(point.offMs - point.reachMs));
  const to = px(y(point.offMs + point.reachMs));
  return `<path class="reach" d="M${px(at)} ${from}V${to}"/><path class="${look}" d="${witnessSign(point.kind, at, off, SIGN_PX)}"/>`;
}
