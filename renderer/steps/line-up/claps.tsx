import { useEffect, useMemo, useState } from 'react';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { theBridge, useView } from '../../desk/desk-store.ts';
import { Explain } from '../../parts/explain.tsx';
import { clock } from '../../parts/numbers.ts';
import { evenScale, evenTicks } from '../drawing/axes.ts';
import { takesInOrder } from '../drawing/take-at-hand.ts';
import { useWidth } from '../drawing/use-width.ts';
import { ClapRow, LABEL_WIDTH } from './clap-row.tsx';
import { clapMoments } from './clap-window.ts';
import { MagnifiedHalf } from './closer-wider.tsx';
import './claps.css';

/** Halves of the window to choose from, s. */
const HALVES = [0.005, 0.01, 0.02, 0.06, 0.15, 0.4];

/** The claps of all takes, magnified one under another on one time axis. */
export function Claps({ takeId }: { readonly takeId: string }) {
  const { session, takes } = useView();
  const all = takesInOrder(session).filter(({ take }) => takes[take.id]?.waves.before === true);
  const plan = session.guide?.plan ?? null;
  const moments = useMemo(
    () =>
      clapMoments(
        session.takes,
        (plan?.cues ?? []).map(({ clapFrame }) => clapFrame / SESSION_RATE_HZ),
      ),
    [session.takes, plan],
  );
  const [chosen, setChosen] = useState(0);
  const [zoom, setZoom] = useState(3);
  const [box, width] = useWidth<HTMLDivElement>(560);
  const moment = moments[Math.min(chosen, moments.length - 1)];
  if (moment === undefined || all.length === 0) {
    return (
      <p className="claps-none">
        No take has a clap that was found. Clap once before you play, and it can be seen here.
      </p>
    );
  }
  const { atSec } = moment;
  const halfSec = HALVES[zoom]!;
  const x = evenScale(-halfSec * 1000, halfSec * 1000, LABEL_WIDTH, width - 4);
  return (
    <div className="claps" ref={box}>
      <div className="claps-head">
        <h3>
          <Explain word="clap">Claps</Explain>, magnified
        </h3>
        {moments.length < 2 ? (
          <span>around {clock(atSec, 2)} of the session</span>
        ) : (
          <label>
            around{' '}
            <select value={chosen} onChange={(event) => setChosen(Number(event.target.value))}>
              {moments.map((one, n) => (
                <option key={one.atSec} value={n}>
                  {clock(one.atSec, 2)} ({momentWords(one.takes)})
                </option>
              ))}
            </select>
          </label>
        )}
        <span className="claps-zoom">
          <MagnifiedHalf halves={HALVES} zoom={zoom} onZoom={setZoom} />
        </span>
      </div>
      <div className="claps-rows">
        {all.map(({ take, voice }) => (
          <ClapRow
            key={take.id}
            take={take}
            colour={voice.colour}
            facts={takes[take.id]!}
            atSec={atSec}
            halfSec={halfSec}
            width={width}
            inHand={take.id === takeId}
          />
        ))}
        <div className="claps-moment" style={{ left: x(0) }} aria-hidden="true" />
      </div>
      <svg className="claps-axis" width={width} height={18} aria-hidden="true">
        {evenTicks(-halfSec * 1000, halfSec * 1000, width < 480 ? 4 : 8).map((ms) => (
          <text
            key={ms}
            x={x(ms)}
            y={12}
            textAnchor={ms >= halfSec * 990 ? 'end' : ms <= -halfSec * 990 ? 'start' : 'middle'}
          >
            {ms === 0 ? 'the moment' : `${ms > 0 ? '+' : '−'}${Number(Math.abs(ms).toFixed(2))} ms`}
          </text>
        ))}
      </svg>
      <p className="claps-hint">
        Drag a clap, or press the arrow keys on it (1 ms; with Shift one sample, Page keys 10 ms), to move its take.
      </p>
    </div>
  );
}

function momentWords(takes: number): string {
  if (takes === 0) return "the guide's cue";
  return `${takes} take${takes === 1 ? '' : 's'}`;
}

/** Samples of a take as recorded; null until they are here. Kept while the run is the same. */
export function useSamples(takeId: string, from: number, count: number): Float32Array | null {
  const [samples, setSamples] = useState<Float32Array | null>(null);
  useEffect(() => {
    if (count <= 0) {
      setSamples(null);
      return;
    }
    const stop = new AbortController();
    fetch(theBridge().mediaUrl(`sound/${encodeURIComponent(takeId)}/before`), {
      signal: stop.signal,
      headers: { range: `bytes=${4 * from}-${4 * (from + count) - 1}` },
    })
      .then((answer) => (answer.status === 206 ? answer.arrayBuffer() : null))
      .then((buffer) => setSamples(buffer === null ? null : new Float32Array(buffer, 0, buffer.byteLength >> 2)))
      .catch(() => {
        // Stopped, or the take is not read yet; it comes with its next facts.
      });
    return () => stop.abort();
  }, [takeId, from, count]);
  return samples;
}
