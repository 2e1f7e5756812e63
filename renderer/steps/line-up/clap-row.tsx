import { useEffect, useRef } from 'react';
import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take } from '../../../core/session/schema.ts';
import { takeInHand } from '../../desk/bench-store.ts';
import { layByHand, nudge } from '../../lanes/nudge.ts';
import { figure } from '../../parts/numbers.ts';
import { voiceColour } from '../../parts/voice-colours.ts';
import { sessionSecAt } from '../drawing/take-time.ts';
import { penOf, useThemeTurn } from '../drawing/use-width.ts';
import { columnsOf, runAround } from './clap-window.ts';
import { useSamples } from './claps.tsx';
import { framesOfKey, paintMiddle, paintSound } from './magnified-sound.ts';

/** Room at the left for the take's name, px. */
export const LABEL_WIDTH = 152;
const HEIGHT = 46;
/** A clap softer than this is drawn as soft as it is. */
const LEAST_FULL = 0.02;

interface ClapRowProps {
  readonly take: Take;
  readonly colour: number;
  readonly facts: TakeFacts;
  /** The common moment, session s, and what is shown to each side of it. */
  readonly atSec: number;
  readonly halfSec: number;
  readonly width: number;
  readonly inHand: boolean;
}

/** One take's sound around the common moment. It can be dragged, or moved with the arrow keys. */
export function ClapRow({ take, colour, facts, atSec, halfSec, width, inHand }: ClapRowProps) {
  const { placement } = take;
  const run = runAround(atSec, placement, facts.rateHz, facts.lengthSec);
  const samples = useSamples(take.id, run?.from ?? 0, run?.count ?? 0);
  const canvas = useRef<HTMLCanvasElement>(null);
  const drag = useRef<{ x: number; offsetSec: number } | null>(null);
  const turn = useThemeTurn();
  const inner = Math.max(40, Math.round(width - LABEL_WIDTH - 4));
  const runFrom = run?.from ?? 0;
  // biome-ignore lint/correctness/useExhaustiveDependencies: a turn of the theme repaints
  useEffect(() => {
    const pen = canvas.current === null ? undefined : penOf(canvas.current, inner, HEIGHT);
    if (pen === undefined) return;
    paintMiddle(pen, inner, HEIGHT);
    if (samples === null) return;
    const window = { fromSec: atSec - halfSec, toSec: atSec + halfSec };
    const pairs = columnsOf(samples, { from: runFrom, count: samples.length }, facts.rateHz, placement, window, inner);
    paintSound(pen, pairs, HEIGHT, LEAST_FULL);
  }, [samples, runFrom, facts.rateHz, placement, atSec, halfSec, inner, turn]);
  const clap = placement?.evidence.find((one) => one.kind === 'clap' && Math.abs(one.atSec - atSec) < 1);
  const clapAtSec = clap === undefined ? undefined : sessionSecAt(clap.takeSec, placement) - atSec;
  const offsetSec = placement?.offsetSec ?? 0;
  return (
    <div className={inHand ? 'clap-row clap-row-in-hand' : 'clap-row'}>
      <button
        type="button"
        className="clap-row-name"
        style={{ width: LABEL_WIDTH - 8, borderLeftColor: voiceColour(colour) }}
        aria-current={inHand ? 'true' : undefined}
        onClick={() => takeInHand(take.voiceId, take.id)}
      >
        {take.name}
        <span>{clapAtSec === undefined ? 'no clap found here' : clapWords(clapAtSec)}</span>
      </button>
      <div
        className="clap-row-sound"
        role="slider"
        tabIndex={0}
        aria-label={`Place of ${take.name}`}
        aria-valuenow={Math.round(offsetSec * 10000) / 10}
        aria-valuemin={-7200000}
        aria-valuemax={7200000}
        aria-valuetext={`begins at ${figure(offsetSec, 4)} s${clapAtSec === undefined ? '' : `, clap ${clapWords(clapAtSec)}`}`}
        style={{ width: inner, height: HEIGHT }}
        onFocus={() => takeInHand(take.voiceId, take.id)}
        onPointerDown={(event) => {
          event.currentTarget.setPointerCapture(event.pointerId);
          drag.current = { x: event.clientX, offsetSec };
        }}
        onPointerMove={(event) => {
          if (drag.current === null) return;
          const moved = ((event.clientX - drag.current.x) / inner) * 2 * halfSec;
          if (moved !== 0) layByHand(take, drag.current.offsetSec + moved);
        }}
        onPointerUp={() => {
          drag.current = null;
        }}
        onPointerCancel={() => {
          drag.current = null;
        }}
        onKeyDown={(event) => {
          const by = framesOfKey(event.key, event.shiftKey);
          if (by === undefined) return;
          event.preventDefault();
          event.stopPropagation();
          nudge(take, by);
        }}
      >
        <canvas ref={canvas} style={{ width: inner, height: HEIGHT }} />
        {clapAtSec === undefined || Math.abs(clapAtSec) > halfSec ? null : (
          <span
            className="clap-row-found"
            style={{ left: ((clapAtSec + halfSec) / (2 * halfSec)) * inner }}
            aria-hidden="true"
          />
        )}
        {run === undefined ? <span className="clap-row-none">This take has no sound here.</span> : null}
      </div>
    </div>
  );
}

function clapWords(sec: number): string {
  const ms = Math.abs(sec) * 1000;
  if (ms < 0.05) return 'on the moment';
  return `${figure(ms, ms < 100 ? 1 : 0)} ms ${sec > 0 ? 'late' : 'early'}`;
}
