import { useId } from 'react';
import type { VoiceIntonation } from '../../../core/pitch/intonation.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { useWidth } from '../drawing/use-width.ts';
import { CentsGround } from './cents-ground.tsx';
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
  const layout = layoutCents(voice.notes, span, plan, box);
  const { notes, y } = layout;
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
        <CentsGround layout={layout} box={box} height={HEIGHT} />
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
