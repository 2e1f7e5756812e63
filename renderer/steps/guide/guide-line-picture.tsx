import { useId } from 'react';
import type { GuidePlan } from '../../../core/guide/guide-plan.ts';
import { clock } from '../../parts/numbers.ts';
import { useWidth } from '../drawing/use-width.ts';
import { type GuideLineLayout, layOutGuide, type Piece } from './guide-line-layout.ts';

const HEIGHT = 128;
const STAFF_TOP = 48;
const STAFF_GAP = 8;
const STAFF_BOTTOM = STAFF_TOP + 4 * STAFF_GAP;
const MIDDLE = STAFF_TOP + 2 * STAFF_GAP;
const WORDS_Y = 34;
const TIMES_Y = STAFF_BOTTOM + 28;
/** A letter is about so wide, px. */
const LETTER = 6.6;

/** The guide as one line of a score: silence, tone to tune to, cue with its clap, count-in, bars, and the end. */
export function GuideLinePicture({ plan }: { readonly plan: GuidePlan }) {
  const id = useId();
  const [frame, width] = useWidth<HTMLDivElement>(900);
  const layout = layOutGuide(plan, 12, width - 12);
  const description = guideInWords(plan);
  return (
    <figure className="guide-line" ref={frame}>
      <svg
        width={width}
        height={HEIGHT}
        viewBox={`0 0 ${width} ${HEIGHT}`}
        role="img"
        aria-labelledby={`${id}-t ${id}-d`}
      >
        <title id={`${id}-t`}>What you will hear, in time</title>
        <desc id={`${id}-d`}>{description}</desc>
        <defs>
          <pattern id={`${id}-rest`} width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <path d="M0 0V6" className="guide-line-hatch" />
          </pattern>
        </defs>
        <Grounds layout={layout} hatch={`url(#${id}-rest)`} />
        {[0, 1, 2, 3, 4].map((n) => (
          <line
            key={n}
            x1={12}
            x2={layout.end}
            y1={STAFF_TOP + n * STAFF_GAP}
            y2={STAFF_TOP + n * STAFF_GAP}
            className="guide-line-staff"
          />
        ))}
        <Bars layout={layout} />
        {layout.pieces.map((piece) => (
          <PieceSign key={`${piece.what}${piece.fromSec}`} piece={piece} />
        ))}
        {layout.cues.map((cue) => (
          <g key={cue.clapSec}>
            {cue.beats.map((x) => (
              <ellipse
                key={x}
                cx={x}
                cy={MIDDLE + STAFF_GAP}
                rx="5"
                ry="3.7"
                transform={`rotate(-20 ${x} ${MIDDLE + STAFF_GAP})`}
                className="guide-line-soft"
              />
            ))}
            <path
              d={`M${cue.clap - 5} ${MIDDLE - 5}l10 10m-10 0l10 -10M${cue.clap + 5} ${MIDDLE - 5}v-22`}
              className="guide-line-clap"
            />
            <text x={cue.clap} y={WORDS_Y - 18} textAnchor="middle" className="guide-line-words guide-line-mark">
              clap
            </text>
          </g>
        ))}
        {layout.clicks.map(({ x, isBar }) => (
          <line
            key={x}
            x1={x}
            x2={x}
            y1={isBar ? STAFF_TOP : STAFF_TOP + STAFF_GAP}
            y2={isBar ? STAFF_BOTTOM : STAFF_BOTTOM - STAFF_GAP}
            className={isBar ? 'guide-line-click guide-line-click-bar' : 'guide-line-click'}
          />
        ))}
        <Times layout={layout} plan={plan} />
      </svg>
    </figure>
  );
}

function Grounds({ layout, hatch }: { layout: GuideLineLayout; hatch: string }) {
  const silence = layout.pieces.find((piece) => piece.what === 'silence');
  const countIn = layout.pieces.find((piece) => piece.what === 'countIn');
  const height = STAFF_BOTTOM - STAFF_TOP;
  return (
    <>
      {silence !== undefined && (
        <rect x={silence.from} y={STAFF_TOP} width={silence.to - silence.from} height={height} fill={hatch} />
      )}
      {countIn !== undefined && (
        <rect
          x={countIn.from}
          y={STAFF_TOP}
          width={countIn.to - countIn.from}
          height={height}
          className="guide-line-count"
        />
      )}
    </>
  );
}

function PieceSign({ piece }: { piece: Piece }) {
  const { what, from, to, words } = piece;
  const middle = (from + to) / 2;
  const fits = words.length * LETTER < Math.max(to - from, 30) + 26;
  return (
    <g>
      {(what === 'tone' || what === 'tuning') && (
        <rect
          x={from}
          y={MIDDLE - 3}
          width={Math.max(4, to - from)}
          height={6}
          rx={3}
          className={what === 'tone' ? 'guide-line-tone' : 'guide-line-tuning'}
        />
      )}
      {words !== '' && fits && (
        <text x={middle} y={WORDS_Y} textAnchor="middle" className="guide-line-words">
          {words}
        </text>
      )}
    </g>
  );
}

function Bars({ layout }: { layout: GuideLineLayout }) {
  return (
    <>
      {layout.bars.map(({ x, number }) => (
        <g key={x}>
          <line x1={x} x2={x} y1={STAFF_TOP} y2={STAFF_BOTTOM} className="guide-line-bar" />
          {number !== null && (
            <text x={x + 2} y={STAFF_BOTTOM + 13} className="guide-line-words guide-line-number">
              {number}
            </text>
          )}
        </g>
      ))}
      <path
        d={`M${layout.musicEnd - 5} ${STAFF_TOP}V${STAFF_BOTTOM}`}
        className="guide-line-bar"
        vectorEffect="non-scaling-stroke"
      />
      <rect x={layout.musicEnd - 2.5} y={STAFF_TOP} width={3} height={4 * STAFF_GAP} className="guide-line-end" />
      <line x1={12} x2={12} y1={STAFF_TOP} y2={STAFF_BOTTOM} className="guide-line-bar" />
      {layout.breaks.map((x) => (
        <g key={x} className="guide-line-break">
          <rect x={x - 3} y={STAFF_TOP - 5} width={6} height={4 * STAFF_GAP + 10} />
          <path
            d={`M${x - 6} ${STAFF_BOTTOM + 5}l6 -${4 * STAFF_GAP + 10}M${x} ${STAFF_BOTTOM + 5}l6 -${4 * STAFF_GAP + 10}`}
          />
        </g>
      ))}
    </>
  );
}

/** Times that matter, where they stand apart. */
function Times({ layout, plan }: { layout: GuideLineLayout; plan: GuidePlan }) {
  const silence = layout.pieces.find((piece) => piece.what === 'silence')!;
  const music = layout.pieces.find((piece) => piece.what === 'music')!;
  const marks = [
    { x: silence.from, sec: silence.fromSec },
    { x: silence.to, sec: silence.toSec },
    ...layout.cues.map((cue) => ({ x: cue.clap, sec: cue.clapSec })),
    { x: music.from, sec: music.fromSec },
    { x: layout.musicEnd, sec: music.toSec },
    { x: layout.end, sec: plan.lengthFrames / 48000 },
  ].toSorted((a, b) => a.x - b.x);
  let free = Number.NEGATIVE_INFINITY;
  return (
    <>
      {marks.map(({ x, sec }, at) => {
        const isLast = at === marks.length - 1;
        const from = isLast ? x - 36 : x - 18;
        if (from < free) return null;
        free = from + 42;
        return (
          <text
            key={`${x}`}
            x={x}
            y={TIMES_Y}
            textAnchor={isLast ? 'end' : 'middle'}
            className="guide-line-words guide-line-time"
          >
            {clock(sec, 1)}
          </text>
        );
      })}
    </>
  );
}

/** The whole guide in a few sentences, for people who do not see the picture. */
export function guideInWords(plan: GuidePlan): string {
  const at = (frame: number): string => clock(frame / 48000);
  const tuning = plan.tones.find((tone) => tone.what === 'tuning');
  const [first, last] = plan.cues;
  return [
    `A soft tone, then silence from ${at(plan.silence.fromFrame)} to ${at(plan.silence.toFrame)}.`,
    ...(tuning === undefined ? [] : [`A tone to tune to, A at ${tuning.hz} Hz, from ${at(tuning.fromFrame)}.`]),
    ...(first === undefined ? [] : [`Three soft beats, then your clap at ${at(first.clapFrame)}.`]),
    ...(plan.countInFrame < plan.musicFrame ? [`The count-in begins at ${at(plan.countInFrame)}.`] : []),
    `Music from ${at(plan.musicFrame)} to ${at(plan.musicEndFrame)}, ${plan.bars.length} bars.`,
    ...(last === undefined || last === first ? [] : [`A second clap at ${at(last.clapFrame)}.`]),
    `It ends at ${at(plan.lengthFrames)}.`,
  ].join(' ');
}
