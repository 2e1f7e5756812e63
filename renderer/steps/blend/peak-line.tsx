import { useEffect, useRef } from 'react';
import { figure } from '../../parts/numbers.ts';
import { thePlayer } from '../../playback/the-player.ts';
import { heldPeak } from './loudness-trace.ts';
import { useQuiet } from './use-quiet.ts';
import './peak-line.css';

const LOW_DB = -60;
/** A number that changes more than a few times a second cannot be read. */
const WRITE_MS = 250;

/** The peak of a voice while it plays: a line that grows, and its number. It is drawn without asking React. */
export function PeakLine({ voiceId, name }: { readonly voiceId: string; readonly name: string }) {
  const bar = useRef<HTMLSpanElement>(null);
  const number = useRef<HTMLSpanElement>(null);
  const isQuiet = useQuiet();
  useEffect(() => {
    let held = 0;
    let last = performance.now();
    let written = 0;
    return thePlayer().onLevels(({ voicePeaks }) => {
      const now = performance.now();
      held = heldPeak(held, voicePeaks[voiceId] ?? 0, (now - last) / 1000);
      last = now;
      const db = held > 0 ? 20 * Math.log10(held) : Number.NEGATIVE_INFINITY;
      const isDue = now - written > WRITE_MS;
      if (bar.current !== null && (isDue || !isQuiet)) {
        const share = Math.max(0, Math.min(1, (db - LOW_DB) / -LOW_DB));
        bar.current.style.transform = `scaleX(${share.toFixed(3)})`;
      }
      if (number.current !== null && isDue) {
        written = now;
        number.current.textContent = db < LOW_DB ? '–' : figure(db, 0);
      }
    });
  }, [voiceId, isQuiet]);
  return (
    <span className="peak-line">
      <span className="peak-line-rule" aria-hidden="true">
        <span ref={bar} />
      </span>
      <span className="unseen">Peak of {name}: </span>
      <span className="peak-line-number">
        <span ref={number}>–</span> dBFS
      </span>
    </span>
  );
}
