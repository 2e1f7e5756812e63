import { useEffect, useRef } from 'react';
import type { SpanView } from '../../app/shell/contract/desk-view.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { useDesk } from '../desk/desk-store.ts';
import { placeAt, placeInWords } from '../lanes/bar-map.ts';
import { clock } from '../parts/numbers.ts';
import { usePlayback } from './playback-state.ts';
import { thePlayer } from './the-player.ts';

/** Where the sound is, of how much. Written past React: it changes with every picture. */
export function PlayClock() {
  const place = useRef<HTMLSpanElement>(null);
  const bar = useRef<HTMLSpanElement>(null);
  const plan = useDesk((state) => state.view?.session.guide?.plan ?? null);
  const playing = usePlayback((state) => state.playing);
  const frame = usePlayback((state) => (state.playing ? 0 : state.positionFrame));
  const length = useDesk((state) => state.view?.blend?.lengthFrames ?? null);
  useEffect(() => {
    const write = (at: number): void => {
      show(place.current, clock(at / SESSION_RATE_HZ));
      const here = plan === null ? null : placeAt(plan, at / SESSION_RATE_HZ);
      show(bar.current, here === null ? '' : placeInWords(here));
    };
    if (!playing) {
      write(frame);
      return undefined;
    }
    let request = requestAnimationFrame(function draw() {
      write(thePlayer().positionFrame());
      request = requestAnimationFrame(draw);
    });
    return () => cancelAnimationFrame(request);
  }, [playing, frame, plan]);
  return (
    <div className="play-clock">
      <div className="play-clock-row">
        <span ref={place} className="play-clock-now" role="timer" aria-label="Position" />
        {length !== null && <span className="play-clock-of">of {clock(length / SESSION_RATE_HZ)}</span>}
        {plan !== null && plan.bars.length > 0 && (
          <span ref={bar} className="play-clock-bar" title="Bar and beat of the piece" />
        )}
      </div>
      <Remark />
    </div>
  );
}

function show(element: HTMLElement | null, text: string): void {
  if (element !== null && element.textContent !== text) element.textContent = text;
}

/** What one would wonder about: no sound yet, or silence that is meant. */
function Remark() {
  const starved = usePlayback((state) => state.starved);
  const sec = usePlayback((state) => Math.floor(state.positionFrame / SESSION_RATE_HZ));
  const isOpen = usePlayback(
    (state) => state.alone.length > 0 || state.audition?.onlyIt === true || state.loop !== null,
  );
  const span = useDesk((state) => state.view?.blend?.span ?? null);
  const silence = span === null || isOpen ? '' : silenceAt(sec, span);
  return (
    <div className="play-clock-remark" role="status">
      {starved ? 'waiting for the sound …' : silence}
    </div>
  );
}

function silenceAt(sec: number, span: SpanView): string {
  if (sec < Math.floor(span.fromSec)) return `silent until ${clock(span.fromSec)}`;
  return sec > span.toSec ? `silent from ${clock(span.toSec)} on` : '';
}
