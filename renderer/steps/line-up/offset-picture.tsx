import { useId } from 'react';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Against, OffsetCurve } from '../../../core/session/offset-curve.ts';
import { bandPath, linePath, type MsRange, WARN_MS, witnessSign } from '../../../core/session/offset-drawing.ts';
import type { Take } from '../../../core/session/schema.ts';
import { useWidth } from '../drawing/use-width.ts';
import { lookAt } from './glass-store.ts';
import { curveWords, type DrawnPoint, layOffsets, msWords } from './offset-axes.ts';
import { OffsetLegend } from './offset-legend.tsx';

const HEIGHT = 214;
const LEFT = 92;
const RIGHT = 14;
const TOP = 22;
const BOTTOM = 26;
const SIGN_PX = 3.6;

interface OffsetPictureProps {
  readonly take: Take;
  readonly curve: OffsetCurve;
  readonly against: Against;
  readonly range: MsRange;
  readonly plan: KeptPlan | null;
}

/** The curve itself, with its legend. A click on it takes that moment under the glass. */
export function OffsetPicture({ take, curve, against, range, plan }: OffsetPictureProps) {
  const id = useId();
  const [frame, width] = useWidth<HTMLDivElement>(560);
  const box = { left: LEFT, right: Math.max(LEFT + 40, width - RIGHT), top: TOP, bottom: HEIGHT - BOTTOM };
  const layout = layOffsets(curve, range, plan, box);
  const { x, y, freeY, points } = layout;
  const warnMs = (curve.place.at(-1)?.toMs ?? 0) + WARN_MS;
  return (
    <div className="offset-picture" ref={frame}>
      {/* biome-ignore lint/a11y/useKeyWithClickEvents: the field "around" below brings any moment under the glass by keyboard */}
      <svg
        width={width}
        height={HEIGHT}
        viewBox={`0 0 ${width} ${HEIGHT}`}
        role="img"
        aria-labelledby={`${id}-t ${id}-d`}
        onClick={(event) => {
          const left = event.clientX - event.currentTarget.getBoundingClientRect().left;
          const share = Math.max(0, Math.min(1, (left - box.left) / (box.right - box.left)));
          lookAt(take.id, curve.fromSec + share * (curve.toSec - curve.fromSec));
        }}
      >
        <title id={`${id}-t`}>{`${take.name}: offset over time`}</title>
        <desc id={`${id}-d`}>{curveWords(curve)}</desc>
        <rect
          x={box.left}
          y={box.top}
          width={box.right - box.left}
          height={box.bottom - box.top}
          className="offset-sheet"
        />
        <clipPath id={`${id}-c`}>
          <rect x={box.left} y={box.top} width={box.right - box.left} height={box.bottom - box.top} />
        </clipPath>
        {curve.residualMs === null ? null : (
          <path
            d={bandPath(curve.place, curve.residualMs, x, freeY)}
            clipPath={`url(#${id}-c)`}
            className="offset-band"
          />
        )}
        <Axes layout={layout} box={box} against={against} />
        <g clipPath={`url(#${id}-c)`}>
          {[WARN_MS, -WARN_MS].map((ms) => (
            <path key={ms} d={linePath(curve.place, ms, x, freeY, false)} className="offset-warn" />
          ))}
          <path d={linePath(curve.found, 0, x, freeY, true)} className="offset-found" />
          <path d={linePath(curve.place, 0, x, freeY, true)} className="offset-place" />
        </g>
        {warnMs >= range.highMs ? null : (
          <text x={box.right} y={y(warnMs) - 4} textAnchor="end" className="offset-warn-words">
            {WARN_MS} ms
          </text>
        )}
        {points.map((one) => (
          <Moment key={`${one.point.kind}${one.point.atSec}/${one.point.takeSec}`} drawn={one} />
        ))}
        {curve.bends.map((bend, n) => (
          <Bend key={bend.takeSec} x={x(bend.atSec)} words={bend.words} row={n % 2} box={box} />
        ))}
      </svg>
      <OffsetLegend curve={curve} beyond={points.filter((one) => one.beyond !== 0).length} />
    </div>
  );
}

interface Box {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

interface AxesProps {
  readonly layout: Pick<ReturnType<typeof layOffsets>, 'y' | 'msTicks' | 'timeTicks' | 'inBars'>;
  readonly box: Box;
  readonly against: Against;
}

/** What the curve is drawn on: ms at the left, times or bars below. */
function Axes({ layout, box, against }: AxesProps) {
  const { y, msTicks, timeTicks, inBars } = layout;
  return (
    <>
      {msTicks.map((ms) => (
        <g key={ms}>
          <line x1={box.left} x2={box.right} y1={y(ms)} y2={y(ms)} className="offset-grid" />
          <text x={box.left - 6} y={y(ms) + 4} textAnchor="end">
            {msWords(ms, against)}
          </text>
        </g>
      ))}
      {timeTicks.map(({ at, words }) => (
        <g key={words + at}>
          <line x1={at} x2={at} y1={box.top} y2={box.bottom} className="offset-grid" />
          <text x={at} y={HEIGHT - 8} textAnchor={at > box.right - 14 ? 'end' : at < box.left + 8 ? 'start' : 'middle'}>
            {words}
          </text>
        </g>
      ))}
      <text x={box.left - 6} y={HEIGHT - 8} textAnchor="end">
        {inBars ? 'bar' : 'time'}
      </text>
    </>
  );
}

interface BendProps {
  readonly x: number;
  readonly words: string;
  /** 0 or 1: neighbours stand in turn above and below. */
  readonly row: number;
  readonly box: Box;
}

/** A moment at which the take's clock changes, and what it does there, written on the side with more room. */
function Bend({ x, words, row, box }: BendProps) {
  const isRight = x > (box.left + box.right) / 2;
  return (
    <g>
      <line x1={x} x2={x} y1={box.top} y2={box.bottom} className="offset-bend" />
      <text
        x={x + (isRight ? -4 : 4)}
        y={box.top + 12 + 13 * row}
        textAnchor={isRight ? 'end' : 'start'}
        className="offset-bend-words"
      >
        {words}
      </text>
    </g>
  );
}

function Moment({ drawn }: { readonly drawn: DrawnPoint }) {
  const { point, x, y, y1, y2, beyond } = drawn;
  const look = point.accepted ? `offset-sign offset-sign-${point.kind}` : 'offset-sign offset-sign-aside';
  if (beyond !== 0) return <path d={`M${x} ${y}l-4 ${8 * beyond}h8Z`} className={look} />;
  return (
    <g>
      <line
        x1={x}
        x2={x}
        y1={y1}
        y2={y2}
        className={point.accepted ? 'offset-reach' : 'offset-reach offset-reach-aside'}
      />
      <path d={witnessSign(point.kind, x, y, SIGN_PX)} className={look} />
    </g>
  );
}
