import type { CleanFacts } from '../../../app/shell/contract/desk-view.ts';
import { humsAlone } from '../../../core/guide/steady-tones.ts';
import { figure } from '../../parts/numbers.ts';
import { evenTicks, hzTicks, hzWords, pathThrough } from '../drawing/axes.ts';
import { useWidth } from '../drawing/use-width.ts';
import { type Inside, layNoise, type NoiseLayout } from './noise-layout.ts';
import { noNoiseWords } from './verdicts.ts';
import './noise-picture.css';

const HEIGHT = 208;

/** The noise of the silence over pitch, before and after cleaning, with hum and whistles named. */
export function NoisePicture({ clean }: { readonly clean: CleanFacts }) {
  const [box, width] = useWidth<HTMLElement>(480);
  const inside: Inside = { left: 44, right: width - 10, top: 44, bottom: HEIGHT - 24 };
  const laid = layNoise(clean, inside);
  return (
    <figure className="noise-picture" ref={box}>
      <figcaption>
        <span>
          <strong>Noise in the silence</strong> <span className="small faint nowrap">dBFS per ⅓ octave</span>
        </span>
        <span className="noise-picture-legend">
          <svg width="26" height="10" aria-hidden="true">
            <path className="noise-picture-before" d="M1 5H25" />
          </svg>
          before
          <svg width="26" height="10" aria-hidden="true">
            <path className="noise-picture-after" d="M1 5H25" />
          </svg>
          after cleaning
        </span>
      </figcaption>
      {laid === undefined ? (
        <p className="noise-picture-none">{noNoiseWords(clean)}</p>
      ) : (
        <Drawing laid={laid} inside={inside} width={width} label={inWords(clean)} />
      )}
    </figure>
  );
}

/** Where the names of a row stand. */
const footOf = (row: number): number => 12 + 12 * row;

interface DrawingProps {
  readonly laid: NoiseLayout;
  readonly inside: Inside;
  readonly width: number;
  readonly label: string;
}

function Drawing({ laid, inside, width, label }: DrawingProps) {
  const { x, y, before, after } = laid;
  const between = `${pathThrough(before)}${pathThrough([...after].reverse()).replace('M', 'L')}Z`;
  return (
    <svg
      className="noise-picture-drawing"
      width={width}
      height={HEIGHT}
      viewBox={`0 0 ${width} ${HEIGHT}`}
      role="img"
      aria-label={label}
    >
      {evenTicks(laid.lowDb, laid.topDb, 6).map((db) => (
        <g key={db}>
          <line className="noise-picture-rule" x1={inside.left} x2={inside.right} y1={y(db)} y2={y(db)} />
          <text x={inside.left - 6} y={y(db) + 4} textAnchor="end">
            {figure(db, 0)}
          </text>
        </g>
      ))}
      {hzTicks(laid.lowHz, laid.highHz, width < 420).map(({ at, words }) => (
        <g key={at}>
          <line className="noise-picture-stroke" x1={x(at)} x2={x(at)} y1={inside.bottom} y2={inside.bottom + 4} />
          <text x={x(at)} y={HEIGHT - 6} textAnchor="middle">
            {words}
          </text>
        </g>
      ))}
      <path className="noise-picture-between" d={between} />
      <path className="noise-picture-before" d={pathThrough(before)} />
      <path className="noise-picture-after" d={pathThrough(after)} />
      {laid.lines.map((line) => (
        <line
          key={`${line.kind}${line.hz}`}
          className={`noise-picture-${line.kind}`}
          x1={line.x}
          x2={line.x}
          y1={(line.row < 0 ? inside.top - 6 : footOf(line.row)) - 8}
          y2={inside.bottom}
        />
      ))}
      {laid.lines
        .filter(({ row }) => row >= 0)
        .map(({ kind, hz, x: lineX, row, side, words }) => (
          <text
            key={`${kind}${hz}`}
            className="noise-picture-name"
            x={lineX + (side === 'left' ? -4 : 4)}
            y={footOf(row)}
            textAnchor={side === 'left' ? 'end' : 'start'}
          >
            {words}
          </text>
        ))}
    </svg>
  );
}

function inWords({ noise, lines, whistlesHz }: CleanFacts): string {
  if (noise === null) return 'Noise in the silence';
  const loudest = noise.spectrum.reduce(
    (most, band) => (band.beforeDb > most.beforeDb ? band : most),
    noise.spectrum[0]!,
  );
  const hum = noise.humHz === null ? 'no hum' : `hum at ${hzWords(noise.humHz)} with ${lines.length} lines`;
  const named = (name: string, tones: readonly number[]): string =>
    tones.length === 0 ? '' : `, ${name} at ${tones.map(hzWords).join(', ')}`;
  const alone = `${named('low tones', whistlesHz.filter(humsAlone))}${named(
    'whistles',
    whistlesHz.filter((hz) => !humsAlone(hz)),
  )}`;
  return `Noise in the silence before and after cleaning. Strongest around ${hzWords(loudest.hz)} with ${figure(loudest.beforeDb, 0)} dBFS, ${figure(loudest.afterDb, 0)} after; ${hum}${alone}.`;
}
