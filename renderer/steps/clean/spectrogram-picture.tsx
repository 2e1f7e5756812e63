import { useEffect, useRef, useState } from 'react';
import type { Listen, SpanView, TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import { theBridge } from '../../desk/desk-store.ts';
import { clock, figure } from '../../parts/numbers.ts';
import { evenScale, evenTicks, hzTicks, logScale } from '../drawing/axes.ts';
import { inkPalette, parseColour } from '../drawing/ink.ts';
import { themeColour, useThemeTurn, useWidth } from '../drawing/use-width.ts';
import { paintInk, shownRange } from './stretch-shown.ts';
import './spectrogram-picture.css';

const ROWS = 144;
const LOW_HZ = 40;
const HIGH_HZ = 20000;
const LEFT = 46;
const BOTTOM = 20;
const TOP = 4;

/** One stretch of a take's sound, time to the right and pitch upwards, darker where louder, before and after cleaning. */
export function SpectrogramPair({ facts, span }: { readonly facts: TakeFacts; readonly span: SpanView }) {
  const [box, width] = useWidth<HTMLDivElement>(700);
  const sideBySide = width >= 560;
  const each = Math.floor(sideBySide ? (width - 16) / 2 : width);
  // The desk is asked for few widths only, so that pulling at the window does not ask at each pixel.
  const columns = Math.max(64, Math.min(480, Math.floor((each - LEFT - 8) / 32) * 32));
  const { takeId, clean } = facts;
  const before = useBytes(takeId, 'before', span, columns, facts.file);
  const after = useBytes(takeId, 'after', span, columns, clean.noise ?? clean.state);
  const range = before === null ? null : shownRange(before);
  return (
    <div className="spectrogram-pair" ref={box}>
      <div className={sideBySide ? 'spectrogram-pair-two' : 'spectrogram-pair-one'}>
        <Spectrogram title="before" bytes={before} columns={columns} range={range} span={span} width={each} />
        <Spectrogram title="after cleaning" bytes={after} columns={columns} range={range} span={span} width={each} />
      </div>
      {range === null ? null : <Legend lowDb={range.lowDb} topDb={range.topDb} />}
    </div>
  );
}

/** The bytes of a spectrogram; null until they are here. */
function useBytes(takeId: string, listen: Listen, span: SpanView, columns: number, made: unknown): Uint8Array | null {
  const [bytes, setBytes] = useState<Uint8Array | null>(null);
  const { fromSec, toSec } = span;
  // biome-ignore lint/correctness/useExhaustiveDependencies: what the sound was made from is why it is asked for again
  useEffect(() => {
    const stop = new AbortController();
    const question = `from=${fromSec.toFixed(4)}&to=${toSec.toFixed(4)}&columns=${columns}&rows=${ROWS}`;
    const address = theBridge().mediaUrl(`spectrogram/${encodeURIComponent(takeId)}/${listen}?${question}`);
    fetch(address, { signal: stop.signal, cache: 'no-store' })
      .then((answer) => (answer.ok ? answer.arrayBuffer() : null))
      .then((buffer) => setBytes(buffer === null || buffer.byteLength < columns * ROWS ? null : new Uint8Array(buffer)))
      .catch(() => {
        // Stopped, or the sound is not made yet: the picture stays as it was and comes with the next facts.
      });
    return () => stop.abort();
  }, [takeId, listen, fromSec, toSec, columns, made]);
  return bytes;
}

interface SpectrogramProps {
  readonly title: string;
  readonly bytes: Uint8Array | null;
  readonly columns: number;
  readonly range: { readonly lowDb: number; readonly topDb: number } | null;
  readonly span: SpanView;
  readonly width: number;
}

function Spectrogram({ title, bytes, columns, range, span, width }: SpectrogramProps) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const turn = useThemeTurn();
  // biome-ignore lint/correctness/useExhaustiveDependencies: a turn of the theme repaints
  useEffect(() => {
    const pen = canvas.current?.getContext('2d');
    if (pen == null || bytes === null || range === null || bytes.length < columns * ROWS) return;
    const image = pen.createImageData(columns, ROWS);
    const palette = inkPalette(parseColour(themeColour('--sheet')), parseColour(themeColour('--ink')));
    paintInk(bytes, columns, ROWS, range, palette, image.data);
    pen.putImageData(image, 0, 0);
  }, [bytes, columns, range?.lowDb, range?.topDb, turn]);
  const inner = width - LEFT - 8;
  const y = logScale(LOW_HZ, HIGH_HZ, TOP + ROWS, TOP);
  const x = evenScale(span.fromSec, span.toSec, LEFT, LEFT + inner);
  const digits = span.toSec - span.fromSec < 3 ? 1 : 0;
  return (
    <figure className="spectrogram">
      <figcaption>{title}</figcaption>
      <div className="spectrogram-sheet" style={{ width, height: TOP + ROWS + BOTTOM }}>
        <canvas
          ref={canvas}
          width={columns}
          height={ROWS}
          style={{ left: LEFT, top: TOP, width: inner, height: ROWS }}
          role="img"
          aria-label={`Spectrogram ${title}, ${clock(span.fromSec)} to ${clock(span.toSec)} of the take, 40 Hz to 20 kHz`}
        />
        {bytes === null ? <p style={{ left: LEFT, top: TOP, width: inner, height: ROWS }}>Not here yet.</p> : null}
        <svg width={width} height={TOP + ROWS + BOTTOM} aria-hidden="true">
          {hzTicks(LOW_HZ, HIGH_HZ)
            .filter(({ at }) => [100, 500, 1000, 2000, 5000, 10000].includes(at))
            .map(({ at, words }) => (
              <g key={at}>
                <line x1={LEFT - 4} x2={LEFT} y1={y(at)} y2={y(at)} />
                <text x={LEFT - 6} y={y(at) + 4} textAnchor="end">
                  {words}
                </text>
              </g>
            ))}
          {evenTicks(span.fromSec, span.toSec, Math.max(2, Math.floor(inner / 70))).map((sec) => (
            <g key={sec}>
              <line x1={x(sec)} x2={x(sec)} y1={TOP + ROWS} y2={TOP + ROWS + 4} />
              <text
                x={x(sec)}
                y={TOP + ROWS + 16}
                textAnchor={x(sec) > width - 24 ? 'end' : x(sec) < LEFT + 10 ? 'start' : 'middle'}
              >
                {clock(sec, digits)}
              </text>
            </g>
          ))}
        </svg>
      </div>
    </figure>
  );
}

/** What the shades mean. */
function Legend({ lowDb, topDb }: { readonly lowDb: number; readonly topDb: number }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const turn = useThemeTurn();
  // biome-ignore lint/correctness/useExhaustiveDependencies: a turn of the theme repaints
  useEffect(() => {
    const pen = canvas.current?.getContext('2d');
    if (pen == null) return;
    const image = pen.createImageData(256, 1);
    image.data.set(inkPalette(parseColour(themeColour('--sheet')), parseColour(themeColour('--ink'))));
    pen.putImageData(image, 0, 0);
  }, [turn]);
  return (
    <p className="spectrogram-legend">
      {figure(lowDb, 0)} dBFS or less
      <canvas ref={canvas} width={256} height={1} />
      {figure(topDb, 0)} dBFS, the loudest before
    </p>
  );
}
