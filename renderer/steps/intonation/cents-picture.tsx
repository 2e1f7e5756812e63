import { useId } from 'react';
import { WARN_CENTS } from '../../../core/pitch/audibility.ts';
import type { VoiceIntonation } from '../../../core/pitch/intonation.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { change } from '../../parts/numbers.ts';
import { useWidth } from '../drawing/use-width.ts';
import { layoutCents } from './cents-layout.ts';
import { pictureWords } from './intonation-words.ts';

const HEIGHT = 132;
const LEFT = 40;
const RIGHT = 8;
const TOP = 10;
const BOTTOM = HEIGHT - 22;

interface CentsPictureProps {
  readonly voice: VoiceIntonation;
  readonly colour: string;
  readonly span: { readonly fromSec: number; readonly toSec: number };
  readonly plan: KeptPlan | null;
}

/** Each note of a voice as a short line over time against the reference, with the band of what few will mind. */
export function CentsPicture({ voice, colour, span, plan }: CentsPictureProps) {
  const id = useId();
  const [frame, width] = useWidth<HTMLDivElement>(560);
  const box = { left: LEFT, right: Math.max(LEFT + 40, width - RIGHT), top: TOP, bottom: BOTTOM };
  const { notes, y, centsTicks, timeTicks, inBars } = layoutCents(voice.notes, span, plan, box);
  return (
    <div className="cents-picture" ref={frame}>
      <svg
        width={width}
        height={HEIGHT}
        viewBox={`0 0 ${width} ${HEIGHT}`}
        role="img"
        aria-labelledby={`${id}-t ${id}-d`}
      >
        <title id={`${id}-t`}>{`${voice.name}: cents over time`}</title>
        <desc id={`${id}-d`}>{pictureWords(plan, voice)}</desc>
        <rect
          x={box.left}
          width={box.right - box.left}
          y={y(WARN_CENTS)}
          height={y(-WARN_CENTS) - y(WARN_CENTS)}
          className="cents-band"
        />
        {centsTicks.map((cents) => (
          <g key={cents}>
            <line
              x1={box.left}
              x2={box.right}
              y1={y(cents)}
              y2={y(cents)}
              className={cents === 0 ? 'cents-zero' : 'cents-grid'}
            />
            <text x={box.left - 5} y={y(cents) + 4} textAnchor="end">
              {change(cents, 0)}
            </text>
          </g>
        ))}
        <text x={box.left - 5} y={HEIGHT - 5} textAnchor="end">
          {inBars ? 'bar' : 'time'}
        </text>
        {timeTicks.map(({ at, words }) => (
          <g key={words + at}>
            <line x1={at} x2={at} y1={box.bottom} y2={box.bottom + 4} className="cents-tick" />
            <text x={at} y={HEIGHT - 5} textAnchor={at < box.right - 16 ? 'middle' : 'end'}>
              {words}
            </text>
          </g>
        ))}
        {voice.centreCents !== null && (
          <line
            x1={box.left}
            x2={box.right}
            y1={y(voice.centreCents)}
            y2={y(voice.centreCents)}
            className="cents-centre"
          />
        )}
        {notes.map((note, index) =>
          note.beyond === 0 ? (
            <line
              // biome-ignore lint/suspicious/noArrayIndexKey: notes have no names, and a report never changes
              key={index}
              x1={note.x1}
              x2={note.x2}
              y1={note.y}
              y2={note.y}
              style={{ stroke: colour }}
              className={note.out ? 'cents-note cents-note-out' : 'cents-note'}
            />
          ) : (
            <path
              // biome-ignore lint/suspicious/noArrayIndexKey: notes have no names, and a report never changes
              key={index}
              d={`M${note.x1} ${note.y + 7 * note.beyond}l4 ${-7 * note.beyond}l4 ${7 * note.beyond}Z`}
              style={{ fill: colour }}
              className="cents-beyond"
            />
          ),
        )}
      </svg>
    </div>
  );
}
