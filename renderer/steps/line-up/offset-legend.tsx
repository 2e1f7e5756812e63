import type { OffsetCurve } from '../../../core/session/offset-curve.ts';
import { witnessName, witnessSign } from '../../../core/session/offset-drawing.ts';

const SIGN_PX = 4.2;

interface OffsetLegendProps {
  readonly curve: OffsetCurve;
  /** Signs that lie outside of what the picture shows. */
  readonly beyond: number;
}

/** What the signs and lines of a curve of offset mean, of those that it has. */
export function OffsetLegend({ curve, beyond }: OffsetLegendProps) {
  const kinds = [...new Set(curve.points.map((one) => one.kind))];
  return (
    <ul className="offset-legend" aria-label="What the signs mean">
      {kinds.map((kind) => (
        <li key={kind}>
          <svg width="16" height="14" aria-hidden="true" className="offset-legend-sign">
            <path
              d={witnessSign(kind, 8, kind === 'user' ? 11 : 7, SIGN_PX)}
              className={`offset-sign offset-sign-${kind}`}
            />
          </svg>
          {witnessName(kind)}
        </li>
      ))}
      {curve.points.some((one) => !one.accepted) ? (
        <li>
          <svg width="16" height="14" aria-hidden="true" className="offset-legend-sign">
            <path d={witnessSign('bleed', 8, 7, SIGN_PX)} className="offset-sign offset-sign-aside" />
          </svg>
          hollow: set aside
        </li>
      ) : null}
      <li>
        <svg width="22" height="14" aria-hidden="true">
          <path d="M0 7H22" className="offset-place" />
        </svg>
        its place
      </li>
      {curve.found.length > 0 ? (
        <li>
          <svg width="22" height="14" aria-hidden="true">
            <path d="M0 7H22" className="offset-found" />
          </svg>
          as it was found
        </li>
      ) : null}
      {curve.residualMs === null ? null : (
        <li>
          <svg width="22" height="14" aria-hidden="true">
            <rect x="0" y="2" width="22" height="10" className="offset-band" />
          </svg>
          where any moment is thought to lie
        </li>
      )}
      <li>a click has the moment under the glass</li>
      {beyond > 0 ? <li>arrows at the edge: {beyond} that lie beyond</li> : null}
    </ul>
  );
}
