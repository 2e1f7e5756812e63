import { type PointerEvent, useRef, useState } from 'react';
import type { SeveralView } from '../../../app/shell/contract/desk-view.ts';
import type { Session, Take } from '../../../core/session/schema.ts';
import { splitEdit } from '../../../core/session/split-take.ts';
import { edit } from '../../desk/desk-store.ts';
import { say } from '../../frame/said.tsx';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { clock } from '../../parts/numbers.ts';
import { draftOf, edgeRange, type PartDraft, wantedParts, withEdge, withUsed } from './part-bounds.ts';
import { toTakeRow } from './to-take-row.ts';
import { TypedSeconds } from './typed-seconds.tsx';
import './several-part.css';

export interface SeveralPartProps {
  readonly take: Take;
  readonly session: Session;
  readonly several: SeveralView;
  readonly clipSec: number;
}

const WIDTH = 960;
const HEIGHT = 72;
/** What an arrow key moves an edge by, s; with Shift ten times as much. */
const STEP_SEC = 0.1;

/** A clip that seems to hold several takes: where each lies, to be moved, and what is to be done with them. */
export function SeveralPart({ take, session, several, clipSec }: SeveralPartProps) {
  const [draft, setDraft] = useState(() => draftOf(several));
  const wanted = wantedParts(draft);
  const setEdge = (index: number, atSec: number): void => setDraft((now) => withEdge(now, index, atSec, clipSec));
  const make = (): void => {
    const ids = wanted.map(() => `take-${crypto.randomUUID().slice(0, 8)}`);
    const [only] = wanted;
    if (wanted.length >= 2) edit(splitEdit(session, take, wanted, ids));
    else if (only !== undefined) {
      edit({ kind: 'setPart', takeId: take.id, part: { fromSec: only.fromSec, toSec: only.toSec } });
    }
    say(wanted.length >= 2 ? `${wanted.length} takes made of ${take.name}.` : `One part of ${take.name} is used.`);
    toTakeRow(take.id);
  };
  const keep = (): void => {
    edit({ kind: 'setPart', takeId: take.id, part: { fromSec: 0, toSec: clipSec } });
    toTakeRow(take.id);
  };
  return (
    <div className="several">
      <Note
        kind="look"
        title={`This clip seems to hold ${several.parts.length} takes.`}
        actions={
          <>
            <Button small kind="main" disabled={wanted.length === 0} onClick={make}>
              {wanted.length === 1 ? 'Use this part alone' : `Make ${wanted.length} takes of it`}
            </Button>
            <Button small onClick={keep}>
              Keep as one
            </Button>
          </>
        }
      >
        {howWords(several)} Move the bounds where they are wrong. The clip itself stays as it is, and undo brings it
        back whole.
      </Note>
      <Drawing take={take} several={several} draft={draft} clipSec={clipSec} onEdge={setEdge} />
      <ol className="several-list">
        {several.parts.map((part, n) => (
          <li key={part.beginsSec} className={draft.used[n] ? '' : 'several-unused'}>
            <label className="several-use">
              <input
                type="checkbox"
                checked={draft.used[n]}
                onChange={(event) => setDraft((now) => withUsed(now, n, event.target.checked))}
              />
              <span className="several-name">
                {take.name}, {n + 1}
              </span>
            </label>
            <TypedSeconds
              label={`Where take ${n + 1} of the clip begins, seconds`}
              value={draft.edgesSec[n]!}
              onChange={(sec) => setEdge(n, sec)}
            />
            <span aria-hidden="true">–</span>
            <TypedSeconds
              label={`Where take ${n + 1} of the clip ends, seconds`}
              value={draft.edgesSec[n + 1]!}
              onChange={(sec) => setEdge(n + 1, sec)}
            />
            <span>s</span>
            <span className="faint">
              {clock(draft.edgesSec[n + 1]! - draft.edgesSec[n]!)} long{' '}
              {part.by === 'clap'
                ? `· clap at ${clock(part.beginsSec, 1)}`
                : `· music from ${clock(part.beginsSec, 1)}`}
              {part.isBrokenOff ? ' · broken off? It will be marked “not this one”.' : ''}
            </span>
          </li>
        ))}
      </ol>
    </div>
  );
}

function howWords({ parts }: SeveralView): string {
  const claps = parts.filter(({ by }) => by === 'clap').length;
  if (claps === parts.length) return 'Claps stand between long rests.';
  const known =
    claps === 0
      ? 'The same music begins again after long rests.'
      : 'Claps, and the same music that begins again, tell them apart.';
  return `${known} Where that is a theme that returns in the piece, it is one take.`;
}

interface DrawingProps {
  readonly take: Take;
  readonly several: SeveralView;
  readonly draft: PartDraft;
  readonly clipSec: number;
  readonly onEdge: (index: number, atSec: number) => void;
}

/** How loud the clip is, its parts, and the edges between them, each a slider. */
function Drawing({ take, several, draft, clipSec, onEdge }: DrawingProps) {
  const box = useRef<HTMLDivElement>(null);
  const share = (sec: number): number => (clipSec > 0 ? sec / clipSec : 0);
  const secAt = (event: PointerEvent): number => {
    const { left, width } = box.current!.getBoundingClientRect();
    return (clipSec * (event.clientX - left)) / Math.max(1, width);
  };
  return (
    <div ref={box} className="several-drawing">
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} preserveAspectRatio="none" aria-hidden="true">
        {draft.used.map((isUsed, n) => {
          const x = WIDTH * share(draft.edgesSec[n]!);
          const width = WIDTH * share(draft.edgesSec[n + 1]!) - x;
          return (
            <rect
              // biome-ignore lint/suspicious/noArrayIndexKey: parts stay in their order.
              key={n}
              className={isUsed ? 'several-band' : 'several-band several-band-out'}
              x={x}
              y={0}
              width={Math.max(0, width)}
              height={HEIGHT}
            />
          );
        })}
        <path className="several-outline" d={outlinePath(several.outline)} />
      </svg>
      {several.parts.map((part, n) => (
        <span
          key={part.beginsSec}
          className={`several-number ${draft.used[n] ? '' : 'several-unused'}`}
          style={{ left: `${100 * share((draft.edgesSec[n]! + draft.edgesSec[n + 1]!) / 2)}%` }}
          aria-hidden="true"
        >
          {n + 1}
        </span>
      ))}
      {draft.edgesSec.map((atSec, n) => {
        const { min, max } = edgeRange(draft, n, clipSec);
        return (
          <div
            // biome-ignore lint/suspicious/noArrayIndexKey: an edge that is moved stays the same one, and keeps the focus.
            key={n}
            className="several-edge"
            style={{ left: `${100 * share(atSec)}%` }}
            role="slider"
            tabIndex={0}
            aria-label={edgeName(take.name, n, draft.edgesSec.length)}
            aria-valuemin={Math.round(100 * min) / 100}
            aria-valuemax={Math.round(100 * max) / 100}
            aria-valuenow={atSec}
            aria-valuetext={clock(atSec, 1)}
            onPointerDown={(event) => {
              event.preventDefault();
              event.currentTarget.focus();
              event.currentTarget.setPointerCapture(event.pointerId);
            }}
            onPointerMove={(event) => {
              if (event.currentTarget.hasPointerCapture(event.pointerId)) onEdge(n, secAt(event));
            }}
            onKeyDown={(event) => {
              const sense = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
              if (sense === undefined) return;
              event.preventDefault();
              event.stopPropagation();
              onEdge(n, atSec + sense * STEP_SEC * (event.shiftKey ? 10 : 1));
            }}
          />
        );
      })}
    </div>
  );
}

function edgeName(name: string, n: number, count: number): string {
  if (n === 0) return `Beginning of the first take of ${name}`;
  return n === count - 1 ? `End of the last take of ${name}` : `Bound between takes ${n} and ${n + 1} of ${name}`;
}

/** The outline above and below a middle line. */
function outlinePath(outline: readonly number[]): string {
  const half = HEIGHT / 2;
  const point = (value: number, n: number, sense: number): string =>
    `${((WIDTH * n) / Math.max(1, outline.length - 1)).toFixed(1)} ${(half - sense * Math.max(0.4, 0.92 * half * value)).toFixed(1)}`;
  const upper = outline.map((value, n) => point(value, n, 1));
  const lower = outline.map((value, n) => point(value, n, -1)).reverse();
  return outline.length === 0 ? '' : `M${[...upper, ...lower].join('L')}Z`;
}
