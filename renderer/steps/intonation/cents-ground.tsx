import { WARN_CENTS } from '../../../core/pitch/audibility.ts';
import { change } from '../../parts/numbers.ts';
import type { layoutCents } from './cents-layout.ts';

/** Half the width of a time or a bar's number, px. */
const HALF_WORD = 16;

interface CentsGroundProps {
  readonly layout: Pick<ReturnType<typeof layoutCents>, 'y' | 'centsTicks' | 'timeTicks' | 'inBars'>;
  readonly box: { readonly left: number; readonly right: number; readonly bottom: number };
  /** Where the words below stand, px. */
  readonly height: number;
}

/** What notes in cents over time are drawn on: the band of what few will mind, cents at the left, bars or times below. */
export function CentsGround({ layout, box, height }: CentsGroundProps) {
  const { y, centsTicks, timeTicks, inBars } = layout;
  return (
    <>
      <rect
        x={box.left}
        width={box.right - box.left}
        y={y(WARN_CENTS)}
        height={y(-WARN_CENTS) - y(WARN_CENTS)}
        className="cents-band"
      />
      {centsTicks.map((cents) => (
        <g key={cents}>
          <line
            x1={box.left}
            x2={box.right}
            y1={y(cents)}
            y2={y(cents)}
            className={cents === 0 ? 'cents-zero' : 'cents-grid'}
          />
          <text x={box.left - 5} y={y(cents) + 4} textAnchor="end">
            {change(cents, 0)}
          </text>
        </g>
      ))}
      <text x={box.left - 5} y={height - 5} textAnchor="end">
        {inBars ? 'bar' : 'time'}
      </text>
      {timeTicks.map(({ at, words }) => (
        <g key={words + at}>
          <line x1={at} x2={at} y1={box.bottom} y2={box.bottom + 4} className="cents-tick" />
          <text x={at} y={height - 5} textAnchor={anchorOf(at, box)}>
            {words}
          </text>
        </g>
      ))}
    </>
  );
}

/** Words stay within the picture, and clear of the word that stands at the left of it. */
function anchorOf(at: number, { left, right }: CentsGroundProps['box']): 'start' | 'middle' | 'end' {
  if (at < left + HALF_WORD) return 'start';
  return at < right - HALF_WORD ? 'middle' : 'end';
}
