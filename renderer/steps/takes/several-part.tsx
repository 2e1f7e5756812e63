import { useState } from 'react';
import type { SeveralView } from '../../../app/shell/contract/desk-view.ts';
import type { Session, Take } from '../../../core/session/schema.ts';
import { splitEdit } from '../../../core/session/split-take.ts';
import { edit } from '../../desk/desk-store.ts';
import { say } from '../../frame/said.tsx';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { clock } from '../../parts/numbers.ts';
import { draftOf, type PartDraft, wantedParts, withEdge, withUsed } from './part-bounds.ts';
import { SeveralDrawing } from './several-drawing.tsx';
import { toTakeRow } from './to-take-row.ts';
import { TypedSeconds } from './typed-seconds.tsx';
import './several-part.css';

export interface SeveralPartProps {
  readonly take: Take;
  readonly session: Session;
  readonly several: SeveralView;
  readonly clipSec: number;
}

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
      <SeveralDrawing take={take} several={several} draft={draft} clipSec={clipSec} onEdge={setEdge} />
      <ol className="several-list">
        {several.parts.map((part, n) => (
          <PartLine
            key={part.beginsSec}
            name={take.name}
            part={part}
            n={n}
            draft={draft}
            onUsed={(isUsed) => setDraft((now) => withUsed(now, n, isUsed))}
            onEdge={setEdge}
          />
        ))}
      </ol>
    </div>
  );
}

interface PartLineProps {
  /** Of the clip's take. */
  readonly name: string;
  readonly part: SeveralView['parts'][number];
  /** Its number in the clip, from 0. */
  readonly n: number;
  readonly draft: PartDraft;
  readonly onUsed: (isUsed: boolean) => void;
  readonly onEdge: (index: number, atSec: number) => void;
}

/** One part of the clip: whether it is to be a take, its bounds in numbers, and what it was known by. */
function PartLine({ name, part, n, draft, onUsed, onEdge }: PartLineProps) {
  const [fromSec, toSec] = [draft.edgesSec[n]!, draft.edgesSec[n + 1]!];
  const begins = clock(part.beginsSec, 1);
  return (
    <li className={draft.used[n] ? '' : 'several-unused'}>
      <label className="several-use">
        <input type="checkbox" checked={draft.used[n]} onChange={(event) => onUsed(event.target.checked)} />
        <span className="several-name">
          {name}, {n + 1}
        </span>
      </label>
      <TypedSeconds
        label={`Where take ${n + 1} of the clip begins, seconds`}
        value={fromSec}
        onChange={(sec) => onEdge(n, sec)}
      />
      <span aria-hidden="true">–</span>
      <TypedSeconds
        label={`Where take ${n + 1} of the clip ends, seconds`}
        value={toSec}
        onChange={(sec) => onEdge(n + 1, sec)}
      />
      <span>s</span>
      <span className="faint">
        {clock(toSec - fromSec)} long {part.by === 'clap' ? `· clap at ${begins}` : `· music from ${begins}`}
        {part.isBrokenOff ? ' · broken off? It will be marked “not this one”.' : ''}
      </span>
    </li>
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
