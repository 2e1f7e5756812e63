import { useEffect, useRef, useState } from 'react';
import { Explain } from '../../parts/explain.tsx';
import { figure } from '../../parts/numbers.ts';
import { usePlayback } from '../../playback/playback-state.ts';
import { thePlayer } from '../../playback/the-player.ts';
import { evenScale, hzTicks, hzWords, logScale } from '../drawing/axes.ts';
import { penOf, themeColour, useThemeTurn, useWidth } from '../drawing/use-width.ts';
import { bandMiddlesHz, LOOK_FRAMES, lookAt, type SpectrumLook } from './spectrum-meyda.ts';
import { useQuiet } from './use-quiet.ts';
import './live-spectrum.css';

const HEIGHT = 132;
const LEFT = 40;
const BOTTOM = 20;
const TOP_DB = 0;
const LOW_DB = -90;
/** 16 pictures a second; a band falls back by some dB a picture, so that the eye can follow. */
const EVERY_MS = 60;
const FALL_DB = 2.5;
const CENTRE_MS = 500;

/** The spectrum of what is heard, in thirds of an octave, as it plays. Not drawn unasked where less motion is wished. */
export function LiveSpectrum() {
  const isQuiet = useQuiet();
  const [wanted, setWanted] = useState<boolean | null>(null);
  const isOn = wanted ?? !isQuiet;
  return (
    <section className="live-spectrum" aria-labelledby="live-spectrum-title">
      <div className="live-spectrum-head">
        <h3 id="live-spectrum-title">Spectrum as it plays</h3>
        <label className="tick">
          <input type="checkbox" checked={isOn} onChange={(event) => setWanted(event.target.checked)} />
          show it
        </label>
      </div>
      {isOn ? <Drawing /> : null}
    </section>
  );
}

function Drawing() {
  const [box, width] = useWidth<HTMLDivElement>(380);
  const canvas = useRef<HTMLCanvasElement>(null);
  const centre = useRef<HTMLSpanElement>(null);
  const playing = usePlayback((state) => state.playing);
  const turn = useThemeTurn();
  // biome-ignore lint/correctness/useExhaustiveDependencies: a turn of the theme repaints
  useEffect(() => {
    const shown = new Float64Array(bandMiddlesHz.length).fill(LOW_DB);
    const paint = (): void => {
      if (canvas.current !== null) paintBands(canvas.current, shown, width);
    };
    paint();
    if (!playing) return;
    const samples = new Float32Array(LOOK_FRAMES);
    let written = 0;
    const timer = setInterval(() => {
      if (document.hidden) return;
      const look = thePlayer().heard(samples) ? lookAt(samples) : null;
      follow(shown, look);
      paint();
      const now = performance.now();
      if (centre.current !== null && now - written > CENTRE_MS) {
        written = now;
        centre.current.textContent = look?.centreHz == null ? '–' : hzWords(Math.round(look.centreHz));
      }
    }, EVERY_MS);
    return () => clearInterval(timer);
  }, [playing, width, turn]);
  return (
    <div ref={box}>
      <canvas
        ref={canvas}
        style={{ width, height: HEIGHT }}
        role="img"
        aria-label="Spectrum of what is heard in thirds of an octave, 50 Hz to 16 kHz, in dBFS"
      />
      <p className="live-spectrum-centre">
        <Explain word="brightness">Brightness</Explain>: middle at <span ref={centre}>–</span>
      </p>
    </div>
  );
}

function follow(shown: Float64Array, look: SpectrumLook | null): void {
  for (let band = 0; band < shown.length; band++) {
    const now = look === null ? LOW_DB : Math.max(LOW_DB, look.bandsDb[band]!);
    shown[band] = Math.max(now, shown[band]! - FALL_DB);
  }
}

function paintBands(canvas: HTMLCanvasElement, shown: Float64Array, width: number): void {
  const pen = penOf(canvas, width, HEIGHT);
  if (pen === undefined) return;
  const half = 10 ** 0.05;
  const lowHz = bandMiddlesHz[0]! / half;
  const highHz = bandMiddlesHz.at(-1)! * half;
  const foot = HEIGHT - BOTTOM;
  const x = logScale(lowHz, highHz, LEFT, width - 4);
  const y = evenScale(TOP_DB, LOW_DB, 6, foot);
  pen.font = '12px sans-serif';
  pen.textBaseline = 'middle';
  pen.textAlign = 'right';
  for (let db = TOP_DB; db >= LOW_DB; db -= 30) {
    pen.fillStyle = themeColour('--rule');
    pen.fillRect(LEFT, y(db), width - LEFT - 4, 1);
    pen.fillStyle = themeColour('--faint');
    pen.fillText(db === 0 ? '0 dB' : figure(db, 0), LEFT - 5, y(db));
  }
  pen.textAlign = 'center';
  for (const { at, words } of hzTicks(lowHz, highHz, width < 360)) {
    pen.fillStyle = themeColour('--faint');
    pen.fillRect(x(at), foot, 1, 4);
    pen.fillText(words, Math.min(width - 20, x(at)), HEIGHT - 7);
  }
  // Each band is a step as wide as it is: a third of an octave.
  pen.beginPath();
  pen.moveTo(x(lowHz), foot);
  shown.forEach((db, band) => {
    const middle = bandMiddlesHz[band]!;
    pen.lineTo(x(middle / half), y(db));
    pen.lineTo(x(middle * half), y(db));
  });
  pen.lineTo(x(highHz), foot);
  pen.fillStyle = themeColour('--quiet');
  pen.fill();
  pen.strokeStyle = themeColour('--ink');
  pen.lineWidth = 1.5;
  pen.stroke();
}
