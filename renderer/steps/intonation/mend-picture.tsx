import { useId } from 'react';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Mend } from '../../../core/session/schema.ts';
import { pathThrough } from '../drawing/axes.ts';
import { useWidth } from '../drawing/use-width.ts';
import { CentsGround } from './cents-ground.tsx';
import { layoutCents } from './cents-layout.ts';
import { centsWords } from './intonation-words.ts';
import { levelOfCurve, type MendedNote, type MendPlace, middleOf } from './mend-edits.ts';

const HEIGHT = 140;
const LEFT = 40;
const RIGHT = 8;
const TOP = 8;
const BOTTOM = HEIGHT - 22;

interface MendPictureProps {
  readonly name: string;
  readonly colour: string;
  readonly notes: readonly MendedNote[];
  readonly place: MendPlace;
  readonly proposed: Mend['curve'];
  readonly chosen: Mend['curve'];
  readonly span: { readonly fromSec: number; readonly toSec: number };
  readonly plan: KeptPlan | null;
}

/** How a take's pitch moves over the piece: notes as played and as mended, and the curves that follow it. */
export function MendPicture(props: MendPictureProps) {
  const { name, colour, notes, place, proposed, chosen, span, plan } = props;
  const id = useId();
  const [frame, width] = useWidth<HTMLDivElement>(440);
  const box = { left: LEFT, right: Math.max(LEFT + 40, width - RIGHT), top: TOP, bottom: BOTTOM };
  const both = [...notes, ...notes.map((note) => ({ ...note, offCents: note.playedCents }))];
  const layout = layoutCents(both, span, plan, box);
  const { x, y, halfCents } = layout;
  const inside = (cents: number): number => y(Math.max(-halfCents, Math.min(halfCents, cents)));
  const line = (curve: Mend['curve']): string =>
    pathThrough(levelOfCurve(curve, notes, place).map(({ sec, cents }) => [x(sec), inside(cents)] as const));
  const isMended = place.mend !== null && notes.some((note) => note.offCents !== note.playedCents);
  const [played, now] = [middleOf(notes, 'playedCents') ?? 0, middleOf(notes, 'offCents') ?? 0];
  return (
    <div className="cents-picture" ref={frame}>
      <svg
        width={width}
        height={HEIGHT}
        viewBox={`0 0 ${width} ${HEIGHT}`}
        role="img"
        aria-labelledby={`${id}-t ${id}-d`}
      >
        <title id={`${id}-t`}>{`${name}: how its pitch moves`}</title>
        <desc id={`${id}-d`}>
          {`${notes.length} notes; their middle is ${centsWords(played)} as played${isMended ? `, ${centsWords(now)} as mended` : ''}.`}
        </desc>
        <CentsGround layout={layout} box={box} height={HEIGHT} />
        {notes.map((note) => (
          <g key={note.fromSec}>
            {isMended && (
              <circle
                cx={x(0.5 * (note.fromSec + note.toSec))}
                cy={inside(note.playedCents)}
                r="2.2"
                className="mend-played"
              />
            )}
            <line
              x1={x(note.fromSec)}
              x2={Math.max(x(note.fromSec) + 3, x(note.toSec))}
              y1={inside(note.offCents)}
              y2={inside(note.offCents)}
              style={{ stroke: colour }}
              className="cents-note"
            />
          </g>
        ))}
        {proposed.length > 0 && <path d={line(proposed)} className="mend-curve mend-curve-proposed" />}
        {chosen.length > 0 && <path d={line(chosen)} className="mend-curve" />}
      </svg>
      <p className="small faint">
        {isMended
          ? 'Circles: notes as they were played. Lines: as they sound now.'
          : 'Lines: notes as they were played.'}
        {proposed.length + chosen.length > 0 &&
          ' The slow line through them is what the curve follows and takes out; vibrato and single notes stay.'}
      </p>
    </div>
  );
}
