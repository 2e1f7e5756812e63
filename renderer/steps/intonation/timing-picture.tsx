import { useId } from 'react';
import { WARN_MS } from '../../../core/pitch/audibility.ts';
import type { TimingReport } from '../../../core/pitch/timing.ts';
import { useView } from '../../desk/desk-store.ts';
import { barStep } from '../../lanes/bar-map.ts';
import { clock, figure } from '../../parts/numbers.ts';
import { voiceColour } from '../../parts/voice-colours.ts';
import { evenScale } from '../drawing/axes.ts';
import { useWidth } from '../drawing/use-width.ts';
import { lateWords } from './intonation-words.ts';
import { type TimingCell, type TimingColumn, timingTable } from './timing-layout.ts';

const NAMES = 132;
const RIGHT = 88;
const ROW = 44;
const GAP = 10;
const TOP = 6;
const SPREAD = 88;
const FOOT = 20;
const LEAST_BAR_PX = 30;
/** Spread from here on is what good ensembles have, ms. Source: see core/pitch/audibility.ts. */
const USUAL_SPREAD_MS = 30;

/** Early and late by voice and bar, and how far each bar spreads. */
export function TimingPicture({ timing }: { readonly timing: TimingReport }) {
  const id = useId();
  const [frame, width] = useWidth<HTMLDivElement>(720);
  const { session } = useView();
  const { columns, voices, reachMs, spreadReachMs } = timingTable(timing);
  if (columns.length === 0) return null;
  const right = Math.max(NAMES + 80, width - RIGHT);
  const x = evenScale(-0.5, columns.length - 0.5, NAMES, right);
  const columnPx = (right - NAMES) / columns.length;
  const hasSpread = columns.some(({ spreadMs }) => spreadMs !== null);
  const voicesTop = hasSpread ? TOP + SPREAD + GAP : TOP;
  const height = voicesTop + voices.length * (ROW + GAP) - GAP + FOOT;
  return (
    <div className="timing-picture" ref={frame}>
      <svg
        width={width}
        height={height}
        viewBox={`0 0 ${width} ${height}`}
        role="img"
        aria-labelledby={`${id}-t ${id}-d`}
      >
        <title id={`${id}-t`}>Early and late, bar by bar</title>
        <desc id={`${id}-d`}>{timingWords(timing, columns)}</desc>
        {hasSpread && (
          <SpreadRow columns={columns} top={TOP} right={right} x={x} columnPx={columnPx} reachMs={spreadReachMs} />
        )}
        {voices.map((voice, at) => (
          <VoiceRow
            key={voice.id}
            name={voice.name}
            cells={voice.cells}
            columns={columns}
            colour={voiceColour(session.voices.find((one) => one.id === voice.id)?.colour ?? 0)}
            top={voicesTop + at * (ROW + GAP)}
            right={right}
            x={x}
            columnPx={columnPx}
            reachMs={reachMs}
          />
        ))}
        <Ticks columns={columns} x={x} columnPx={columnPx} y={height - 5} />
      </svg>
    </div>
  );
}

interface RowProps {
  readonly columns: readonly TimingColumn[];
  readonly top: number;
  readonly right: number;
  readonly x: (column: number) => number;
  readonly columnPx: number;
  readonly reachMs: number;
}

function VoiceRow(
  props: RowProps & { readonly name: string; readonly cells: readonly TimingCell[]; readonly colour: string },
) {
  const { name, cells, columns, colour, top, right, x, columnPx, reachMs } = props;
  const y = evenScale(reachMs, -reachMs, top, top + ROW);
  const inside = (ms: number): number => y(Math.max(-reachMs, Math.min(reachMs, ms)));
  const half = Math.max(1.5, Math.min(4, columnPx / 3));
  return (
    <g>
      <rect x={NAMES} width={right - NAMES} y={y(WARN_MS)} height={y(-WARN_MS) - y(WARN_MS)} className="cents-band" />
      <line x1={NAMES} x2={right} y1={y(0)} y2={y(0)} className="cents-zero" />
      <line x1={NAMES} x2={right} y1={top + ROW + GAP / 2} y2={top + ROW + GAP / 2} className="cents-grid" />
      <text x={NAMES - 8} y={y(0) + 4} textAnchor="end" className="timing-name">
        {name.length > 19 ? `${name.slice(0, 18)}…` : name}
      </text>
      <text x={right + 5} y={y(WARN_MS) + 2}>
        +{WARN_MS} ms late
      </text>
      <text x={right + 5} y={y(-WARN_MS) + 7}>
        −{WARN_MS} ms early
      </text>
      {cells.map(({ column, lateMs, deviationMs, count, isOut }) => (
        <g key={column} style={{ stroke: colour, fill: colour }}>
          <title>{`${name}, ${columnWords(columns[column]!)}: ${lateWords(lateMs)} on the mean of ${count} ${count === 1 ? 'note' : 'notes'}`}</title>
          {deviationMs > 0 && columnPx >= 5 && (
            <line
              x1={x(column)}
              x2={x(column)}
              y1={inside(lateMs + deviationMs)}
              y2={inside(lateMs - deviationMs)}
              className="timing-reach"
            />
          )}
          {isOut ? (
            <path d={diamond(x(column), inside(lateMs), half + 2)} className="timing-out" />
          ) : (
            <circle cx={x(column)} cy={inside(lateMs)} r={half} />
          )}
        </g>
      ))}
    </g>
  );
}

function diamond(x: number, y: number, reach: number): string {
  return `M${x - reach} ${y}L${x} ${y - reach}L${x + reach} ${y}L${x} ${y + reach}Z`;
}

function SpreadRow({ columns, top, right, x, columnPx, reachMs }: RowProps) {
  const y = evenScale(0, reachMs, top + SPREAD, top + GAP);
  const half = Math.max(0.5, Math.min(9, columnPx * 0.35));
  const levels = [WARN_MS, USUAL_SPREAD_MS];
  return (
    <g>
      <text x={NAMES - 8} y={top + SPREAD / 2 + 4} textAnchor="end" className="timing-name">
        Spread of the bar
      </text>
      {columns.map((column, at) =>
        column.spreadMs === null ? null : (
          <rect
            // biome-ignore lint/suspicious/noArrayIndexKey: a bar may come twice, and a report never changes
            key={at}
            x={x(at) - half}
            width={2 * half}
            y={y(Math.min(reachMs, column.spreadMs))}
            height={y(0) - y(Math.min(reachMs, column.spreadMs))}
            className={column.spreadMs > USUAL_SPREAD_MS ? 'timing-spread timing-spread-wide' : 'timing-spread'}
          >
            <title>{`${columnWords(column)}: notes that belong together spread by ${figure(column.spreadMs, 0)} ms`}</title>
          </rect>
        ),
      )}
      {levels.map((ms) => (
        <g key={ms}>
          <line x1={NAMES} x2={right} y1={y(ms)} y2={y(ms)} className="timing-level" />
          <text x={right + 5} y={y(ms) + 4}>
            {ms} ms
          </text>
        </g>
      ))}
      <line x1={NAMES} x2={right} y1={y(0)} y2={y(0)} className="cents-zero" />
    </g>
  );
}

interface TicksProps {
  readonly columns: readonly TimingColumn[];
  readonly x: (column: number) => number;
  readonly columnPx: number;
  readonly y: number;
}

function Ticks({ columns, x, columnPx, y }: TicksProps) {
  const step = barStep(columnPx, LEAST_BAR_PX);
  return (
    <>
      <text x={NAMES - 8} y={y} textAnchor="end">
        {columns[0]!.bar === null ? 'time' : 'bar'}
      </text>
      {columns.map(({ bar, fromSec }, at) =>
        (bar === null ? at : bar - 1) % step === 0 ? (
          // biome-ignore lint/suspicious/noArrayIndexKey: a bar may come twice, and a report never changes
          <text key={at} x={x(at)} y={y} textAnchor="middle">
            {bar ?? clock(fromSec, 0)}
          </text>
        ) : null,
      )}
    </>
  );
}

function columnWords({ bar, fromSec }: TimingColumn): string {
  if (bar === null) return `from ${clock(fromSec, 0)}`;
  return bar === 0 ? 'pick-up' : `bar ${bar}`;
}

/** The picture in words, for whoever does not see it. */
function timingWords(timing: TimingReport, columns: readonly TimingColumn[]): string {
  const voices = timing.voices
    .filter(({ lateMs }) => lateMs !== null)
    .map(({ name, lateMs }) => `${name} ${lateWords(lateMs ?? 0)}`);
  const widest = columns.reduce<TimingColumn | null>(
    (most, one) => ((one.spreadMs ?? 0) > (most?.spreadMs ?? 0) ? one : most),
    null,
  );
  const spread =
    widest === null ? '' : ` The widest is ${columnWords(widest)} with a spread of ${figure(widest.spreadMs, 0)} ms.`;
  return `As a rule: ${voices.join(', ')}.${spread} Every note stands in the table "Note by note".`;
}
