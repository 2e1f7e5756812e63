import { useEffect, useRef } from 'react';
import { Explain } from '../../parts/explain.tsx';
import { figure } from '../../parts/numbers.ts';
import type { PlayedLevels } from '../../playback/player.ts';
import { thePlayer } from '../../playback/the-player.ts';
import { evenScale } from '../drawing/axes.ts';
import { penOf, themeColour, useThemeTurn, useWidth } from '../drawing/use-width.ts';
import { againstTarget, LoudnessTrace, limiterWords, staffLines, TRACE_SEC } from './loudness-trace.ts';
import { useQuiet } from './use-quiet.ts';
import './loudness-staff.css';

const HEIGHT = 118;
const LEFT = 74;
const RIGHT = 8;
const WRITE_MS = 250;

/**
 * The loudness of the mix written onto a staff as it plays: the short-term loudness as a line, the momentary one as a
 * shade around it, the target on its own line; with numbers and what they mean.
 */
export function LoudnessStaff({ targetLufs }: { readonly targetLufs: number }) {
  const [box, width] = useWidth<HTMLDivElement>(380);
  const canvas = useRef<HTMLCanvasElement>(null);
  const trace = useRef<LoudnessTrace>(null);
  trace.current ??= new LoudnessTrace();
  const numbers = useRef<HTMLDListElement>(null);
  const turn = useThemeTurn();
  const isQuiet = useQuiet();
  // biome-ignore lint/correctness/useExhaustiveDependencies: a turn of the theme repaints
  useEffect(() => {
    const paint = (): void => {
      if (canvas.current !== null) paintTrace(canvas.current, trace.current!, width, targetLufs);
    };
    paint();
    let written = 0;
    return thePlayer().onLevels((levels) => {
      trace.current!.add(levels.momentaryLufs, levels.shortTermLufs);
      const now = performance.now();
      if (now - written > WRITE_MS) {
        written = now;
        if (numbers.current !== null) writeNumbers(numbers.current, levels, targetLufs);
        if (isQuiet) paint();
      }
      if (!isQuiet) paint();
    });
  }, [width, targetLufs, turn, isQuiet]);
  return (
    <div className="loudness-staff" ref={box}>
      <canvas
        ref={canvas}
        style={{ width, height: HEIGHT }}
        role="img"
        aria-label={`Loudness of the mix over the last ${TRACE_SEC} seconds on a staff; its second line from the top is the target of ${figure(targetLufs, 0)} LUFS. Its numbers follow.`}
      />
      <dl ref={numbers} className="loudness-staff-numbers">
        <Reading word="momentary" name="momentary" what="momentary" unit="LUFS" />
        <Reading word="shortTerm" name="short-term" what="shortTerm" unit="LUFS" />
        <Reading word="limiter" name="limiter turns down" what="limiter" unit="dB" />
      </dl>
    </div>
  );
}

interface ReadingProps {
  readonly word: 'momentary' | 'shortTerm' | 'limiter';
  readonly name: string;
  readonly what: string;
  readonly unit: string;
}

function Reading({ word, name, what, unit }: ReadingProps) {
  return (
    <div>
      <dt>
        <Explain word={word}>{name}</Explain>
      </dt>
      <dd>
        <span className="loudness-staff-number" data-number={what}>
          –
        </span>{' '}
        {unit}
      </dd>
      <dd className="loudness-staff-words" data-words={what}>
        {'\u00a0'}
      </dd>
    </div>
  );
}

function writeNumbers(list: HTMLElement, levels: PlayedLevels, targetLufs: number): void {
  const write = (what: string, number: string, words: string): void => {
    list.querySelector(`[data-number="${what}"]`)!.textContent = number;
    list.querySelector(`[data-words="${what}"]`)!.textContent = words;
  };
  write('momentary', figure(levels.momentaryLufs), againstTarget(levels.momentaryLufs, targetLufs));
  write('shortTerm', figure(levels.shortTermLufs), againstTarget(levels.shortTermLufs, targetLufs));
  write('limiter', figure(Math.abs(levels.limiterDb)), limiterWords(Math.abs(levels.limiterDb)));
}

function paintTrace(canvas: HTMLCanvasElement, trace: LoudnessTrace, width: number, targetLufs: number): void {
  const pen = penOf(canvas, width, HEIGHT);
  if (pen === undefined) return;
  const lines = staffLines(targetLufs);
  const y = evenScale(lines[0]! + 3, lines.at(-1)! - 3, 2, HEIGHT - 2);
  const x = (share: number): number => LEFT + share * (width - LEFT - RIGHT);
  const held = (lufs: number): number => Math.max(2, Math.min(HEIGHT - 2, y(lufs)));
  pen.font = '12px sans-serif';
  pen.textAlign = 'right';
  pen.textBaseline = 'middle';
  for (const lufs of lines) {
    const isTarget = lufs === targetLufs;
    pen.fillStyle = themeColour(isTarget ? '--mark' : '--edge');
    pen.fillRect(LEFT, y(lufs) - (isTarget ? 1 : 0.5), width - LEFT - RIGHT, isTarget ? 2 : 1);
    pen.fillStyle = themeColour(isTarget ? '--mark' : '--faint');
    pen.fillText(`${isTarget ? 'target ' : ''}${figure(lufs, 0)}`, LEFT - 6, y(lufs));
  }
  // The momentary loudness as a shade from the short-term line: how far the moment stands from the phrase.
  pen.fillStyle = themeColour('--quiet');
  trace.forEach((share, momentary, shortTerm) => {
    if (!Number.isFinite(momentary) || !Number.isFinite(shortTerm)) return;
    const a = held(momentary);
    const b = held(shortTerm);
    pen.fillRect(x(share) - 1, Math.min(a, b), 2, Math.max(1, Math.abs(a - b)));
  });
  pen.strokeStyle = themeColour('--ink');
  pen.lineWidth = 2.5;
  pen.lineJoin = 'round';
  pen.beginPath();
  let isDown = false;
  let isEmpty = true;
  trace.forEach((share, _, shortTerm) => {
    if (!Number.isFinite(shortTerm)) {
      isDown = false;
      return;
    }
    if (isDown) pen.lineTo(x(share), held(shortTerm));
    else pen.moveTo(x(share), held(shortTerm));
    isDown = true;
    isEmpty = false;
  });
  pen.stroke();
  if (!isEmpty) return;
  pen.textAlign = 'left';
  pen.fillStyle = themeColour('--faint');
  pen.fillText('Drawn here while it plays.', LEFT + 8, (y(lines[1]!) + y(lines[2]!)) / 2);
}
