import { isUnplaced } from '../../../core/session/place-words.ts';
import type { Placement, Take } from '../../../core/session/schema.ts';
import { Explain } from '../../parts/explain.tsx';
import { clock, figure } from '../../parts/numbers.ts';
import { evenScale, evenTicks } from '../drawing/axes.ts';
import { useWidth } from '../drawing/use-width.ts';
import { type DrawnWitness, layEvidence } from './evidence-layout.ts';
import { apartWords, exactWords, witnessWords } from './placement-words.ts';
import './evidence.css';

const ROW = 24;
const TOP = 8;
const BOTTOM = 34;

/** What speaks for a take's place: a picture of the witnesses against it, and what each says. */
export function Evidence({ take }: { readonly take: Take }) {
  const placement = withoutPins(take.placement);
  const [box, width] = useWidth<HTMLElement>(360);
  if (placement === null || placement.evidence.length === 0) {
    return <p className="evidence-none">Nothing speaks for its place yet but what you know yourself.</p>;
  }
  const { halfMs, drawn } = layEvidence(placement);
  const height = TOP + ROW * drawn.length + BOTTOM;
  const x = evenScale(-halfMs, halfMs, 26, width - 8);
  return (
    <section className="evidence" ref={box} aria-labelledby="evidence-title">
      <h3 id="evidence-title">
        <Explain word="evidence">What speaks for its place</Explain>
      </h3>
      <svg
        width={width}
        height={height}
        role="img"
        aria-label={`Picture of the evidence: ${drawn.map((one) => `${witnessWords[one.witness.kind]} ${apartWords(one.apartMs / 1000)}`).join(', ')}`}
      >
        {isUnplaced(placement) ? null : (
          <rect
            className="evidence-known"
            x={x(Math.max(-halfMs, -placement.uncertaintySec * 1000))}
            width={
              x(Math.min(halfMs, placement.uncertaintySec * 1000)) -
              x(Math.max(-halfMs, -placement.uncertaintySec * 1000))
            }
            y={TOP - 4}
            height={ROW * drawn.length + 6}
          />
        )}
        <line className="evidence-place" x1={x(0)} x2={x(0)} y1={TOP - 4} y2={height - BOTTOM + 4} />
        {drawn.map((one, n) => (
          <Point
            key={`${one.witness.kind}${one.witness.atSec}/${one.witness.offsetSec}`}
            one={one}
            n={n}
            y={TOP + ROW * (n + 0.5)}
            halfMs={halfMs}
            x={x}
          />
        ))}
        <line
          className="evidence-axis"
          x1={x(-halfMs)}
          x2={x(halfMs)}
          y1={height - BOTTOM + 4}
          y2={height - BOTTOM + 4}
        />
        {evenTicks(-halfMs, halfMs, width < 460 ? 2 : 4).map((ms) => (
          <g key={ms}>
            <line className="evidence-axis" x1={x(ms)} x2={x(ms)} y1={height - BOTTOM + 4} y2={height - BOTTOM + 8} />
            <text
              x={x(ms)}
              y={height - BOTTOM + 20}
              textAnchor={ms <= -halfMs ? 'start' : ms >= halfMs ? 'end' : 'middle'}
            >
              {ms === 0
                ? 'as it lies'
                : `${figure(Math.abs(ms), Math.abs(ms) < 1 ? 1 : 0)} ms ${ms < 0 ? 'earlier' : 'later'}`}
            </text>
          </g>
        ))}
      </svg>
      <p className="evidence-note">
        Each point says where one witness alone would put the take, with how sure it is of that; the shaded band is how
        exactly the place is known ({exactWords(placement)}).
      </p>
      <ol className="evidence-list">
        {drawn.map((one, n) => (
          <li
            key={`${one.witness.kind}${one.witness.atSec}/${one.witness.offsetSec}`}
            className={one.witness.accepted ? undefined : 'evidence-aside'}
          >
            <span className="evidence-number" aria-hidden="true">
              {n + 1}
            </span>
            <span>
              <strong>{witnessWords[one.witness.kind]}</strong> at {clock(one.witness.atSec, 2)}:{' '}
              {apartWords(one.apartMs / 1000)}, exact to ± {figure(one.reachMs, one.reachMs < 10 ? 1 : 0)} ms;{' '}
              {one.witness.accepted ? `${figure(one.witness.weight * 100, 0)} % of the weight` : 'set aside'}.{' '}
              <span className="evidence-says">{one.witness.note}</span>
            </span>
          </li>
        ))}
      </ol>
    </section>
  );
}

/** Pins have a list and a curve of their own. */
function withoutPins(placement: Placement | null): Placement | null {
  if (placement === null) return null;
  return { ...placement, evidence: placement.evidence.filter((one) => one.anchor === undefined) };
}

interface PointProps {
  readonly one: DrawnWitness;
  readonly n: number;
  readonly y: number;
  readonly halfMs: number;
  readonly x: (ms: number) => number;
}

function Point({ one, n, y, halfMs, x }: PointProps) {
  const held = (ms: number): number => x(Math.max(-halfMs, Math.min(halfMs, ms)));
  const { apartMs, reachMs, beyond, witness } = one;
  return (
    <g className={witness.accepted ? 'evidence-point' : 'evidence-point evidence-point-aside'}>
      <text x={2} y={y + 4}>
        {n + 1}
      </text>
      {beyond === 0 ? (
        <>
          <line x1={held(apartMs - reachMs)} x2={held(apartMs + reachMs)} y1={y} y2={y} />
          <line x1={held(apartMs - reachMs)} x2={held(apartMs - reachMs)} y1={y - 4} y2={y + 4} />
          <line x1={held(apartMs + reachMs)} x2={held(apartMs + reachMs)} y1={y - 4} y2={y + 4} />
          <circle cx={x(apartMs)} cy={y} r={3 + 3 * Math.sqrt(witness.weight)} />
        </>
      ) : (
        <>
          <path d={`M${x(beyond * halfMs)} ${y}l${-beyond * 9} -5v10Z`} />
          <text x={x(beyond * halfMs) - beyond * 14} y={y + 4} textAnchor={beyond > 0 ? 'end' : 'start'}>
            {apartWords(apartMs / 1000)}
          </text>
        </>
      )}
    </g>
  );
}
