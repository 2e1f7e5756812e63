import { useId } from 'react';
import type { SoundCheck } from '../../../core/guide/sound-check.ts';
import { figure } from '../../parts/numbers.ts';
import { evenScale } from '../drawing/axes.ts';
import { useWidth } from '../drawing/use-width.ts';
import { levelsInWords } from './check-words.ts';

const LOW_DBFS = -90;
const LEFT = 10;
const RIGHT = 14;
const BAR_TOP = 40;
const BAR_BOTTOM = 76;
const HEIGHT = 110;
/** The word for the peak is about so wide, px; where it would meet that for the music it stands a line higher. */
const PEAK_WORD = 34;
const WORD_LINE = 14;

/** Noise, music and headroom of a trial on one scale of level, full scale at the right. */
export function LevelPicture({ check }: { readonly check: SoundCheck }) {
  const id = useId();
  const [frame, width] = useWidth<HTMLDivElement>(520);
  const { noiseDbfs, musicDbfs, loudestDbfs, peakDbfs } = check.figures;
  const scale = evenScale(LOW_DBFS, 0, LEFT, width - RIGHT);
  const x = (level: number): number => scale(Math.max(LOW_DBFS, Math.min(0, level)));
  const hatch = `url(#${id}-room)`;
  const every = width < 420 ? 20 : 10;
  return (
    <div className="level-picture" ref={frame}>
      <svg
        width={width}
        height={HEIGHT}
        viewBox={`0 0 ${width} ${HEIGHT}`}
        role="img"
        aria-labelledby={`${id}-t ${id}-d`}
      >
        <title id={`${id}-t`}>Levels, in dBFS</title>
        <desc id={`${id}-d`}>{levelsInWords(check)}</desc>
        <defs>
          <pattern id={`${id}-room`} width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <path d="M0 0V6" className="level-hatch" />
          </pattern>
        </defs>
        {noiseDbfs !== null && (
          <rect x={LEFT} y={BAR_TOP} width={x(noiseDbfs) - LEFT} height={BAR_BOTTOM - BAR_TOP} fill={hatch} />
        )}
        {musicDbfs !== null && (
          <rect
            x={x(noiseDbfs ?? LOW_DBFS)}
            y={BAR_TOP}
            width={Math.max(0, x(musicDbfs) - x(noiseDbfs ?? LOW_DBFS))}
            height={BAR_BOTTOM - BAR_TOP}
            className="level-music"
          />
        )}
        {musicDbfs !== null && peakDbfs !== null && (
          <rect
            x={x(musicDbfs)}
            y={BAR_TOP + 8}
            width={Math.max(0, x(peakDbfs) - x(musicDbfs))}
            height={BAR_BOTTOM - BAR_TOP - 16}
            className="level-peaks"
          />
        )}
        <rect x={LEFT} y={BAR_TOP} width={x(0) - LEFT} height={BAR_BOTTOM - BAR_TOP} className="level-frame" />
        <Ticks x={x} every={every} />
        <Mark x={x} at={noiseDbfs} name="room" anchor="end" right={width} />
        <Mark x={x} at={musicDbfs} name="music" anchor="end" right={width} strong />
        <Mark
          x={x}
          at={peakDbfs}
          name="peak"
          anchor="start"
          right={width}
          raised={musicDbfs !== null && peakDbfs !== null && x(peakDbfs) - x(musicDbfs) < PEAK_WORD}
        />
        {loudestDbfs !== null && (
          <line
            x1={x(loudestDbfs)}
            x2={x(loudestDbfs)}
            y1={BAR_TOP + 4}
            y2={BAR_BOTTOM - 4}
            className="level-loudest"
          />
        )}
        <line x1={x(0)} x2={x(0)} y1={BAR_TOP - 6} y2={BAR_BOTTOM + 6} className="level-full" />
      </svg>
    </div>
  );
}

function Ticks({ x, every }: { readonly x: (level: number) => number; readonly every: number }) {
  const levels = Array.from({ length: Math.floor(-LOW_DBFS / every) + 1 }, (_, n) => -n * every);
  return (
    <>
      {levels.map((level) => (
        <g key={level}>
          <line x1={x(level)} x2={x(level)} y1={BAR_BOTTOM} y2={BAR_BOTTOM + 5} className="level-tick" />
          {(level === 0 || x(0) - x(level) > 66) && (
            <text x={x(level)} y={BAR_BOTTOM + 19} textAnchor={level === 0 ? 'end' : 'middle'} className="level-words">
              {level === 0 ? '0 dBFS' : figure(level, 0)}
            </text>
          )}
        </g>
      ))}
    </>
  );
}

interface MarkProps {
  readonly x: (level: number) => number;
  readonly at: number | null;
  readonly name: string;
  readonly anchor: 'start' | 'end';
  readonly right: number;
  readonly strong?: boolean;
  /** Its word stands a line higher. */
  readonly raised?: boolean;
}

function Mark({ x, at, name, anchor, right, strong = false, raised = false }: MarkProps) {
  const up = raised ? WORD_LINE : 0;
  if (at === null) return null;
  const turns = anchor === 'start' ? x(at) > right - 50 : x(at) < 56;
  const side = turns ? (anchor === 'start' ? 'end' : 'start') : anchor;
  return (
    <>
      <line
        x1={x(at)}
        x2={x(at)}
        y1={BAR_TOP - 5 - up}
        y2={BAR_BOTTOM}
        className={strong ? 'level-mark-strong' : 'level-mark'}
      />
      <text
        x={x(at) + (side === 'start' ? 3 : -3)}
        y={BAR_TOP - 9 - up}
        textAnchor={side}
        className={strong ? 'level-words level-words-strong' : 'level-words'}
      >
        {name}
      </text>
    </>
  );
}
