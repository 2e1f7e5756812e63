import { useId } from 'react';
import { residualWarning } from '../../../core/session/offset-curve.ts';
import { isUnplaced } from '../../../core/session/place-words.ts';
import type { Take } from '../../../core/session/schema.ts';
import { ask, edit, useTakeFacts, useView } from '../../desk/desk-store.ts';
import { layByHand, nudge, nudgeKeyWords, nudgeSteps } from '../../lanes/nudge.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { change, figure } from '../../parts/numbers.ts';
import { acceptEdit, backEdit } from './placement-edits.ts';
import { foundOffsetSec } from './placement-words.ts';
import './take-place.css';

/** What can be done with the place of the take in hand: answer its question, move it, ask again. */
export function TakePlace({ take }: { readonly take: Take }) {
  const { jobs } = useView();
  const { placement } = take;
  const accept = acceptEdit(take);
  const back = backEdit(take);
  const busy = jobs.some((job) => job.kind === 'lineUp');
  const askAgain = (takeIds: string[]): void => {
    // What the hand did is taken back first: what is found does not count beside it.
    if (takeIds.length > 0 && back !== undefined) edit(back);
    void ask((bridge) => bridge.calls.lineUpAgain({ takeIds }));
  };
  return (
    <section className="take-place" aria-labelledby="take-place-title">
      <h3 id="take-place-title">{take.name}</h3>
      {placement === null || accept === undefined ? null : (
        <div className="take-place-question">
          <p>
            <strong>Look here:</strong> {placement.question ?? residualWarning(placement)}
          </p>
          <div className="take-place-buttons">
            <Button small onClick={() => edit(accept)} disabled={isUnplaced(placement)}>
              It lies right
            </Button>
            {isUnplaced(placement) ? (
              <Button small onClick={() => layByHand(take, 0)}>
                Lay it at the beginning
              </Button>
            ) : null}
          </div>
        </div>
      )}
      <MoveByHand take={take} />
      <ClipNotes takeId={take.id} />
      <div className="take-place-buttons">
        <Button small disabled={back === undefined} onClick={() => back !== undefined && edit(back)}>
          Back to what was found
        </Button>
        <Button small disabled={busy} onClick={() => askAgain([take.id])}>
          Line it up again
        </Button>
        <Button small disabled={busy} onClick={() => askAgain([])}>
          Line up all again
        </Button>
      </div>
    </section>
  );
}

/** What was noticed of the clip's own time and sound: lost sound, time stamps that leap, sound and picture that disagree. */
function ClipNotes({ takeId }: { readonly takeId: string }) {
  const notes = useTakeFacts(takeId)?.notes ?? [];
  if (notes.length === 0) return null;
  return (
    <div className="take-place-notes">
      <Note title="About this clip:">{notes.join(' ')}</Note>
    </div>
  );
}

/** Buttons that move a take by samples and milliseconds, with its place in numbers; keys do the same in a lane. */
function MoveByHand({ take }: { readonly take: Take }) {
  const hint = useId();
  const hasGuide = useView().session.guide !== null;
  return (
    <fieldset className="take-place-nudge" aria-describedby={hint}>
      <legend>
        Move it by hand <span className="take-place-at">{placeInWords(take)}</span>
      </legend>
      {([-1, 1] as const).map((sense) => (
        <div className="take-place-steps" key={sense}>
          <span>{sense < 0 ? 'earlier' : 'later'}</span>
          {nudgeSteps.map(({ label, frames }) => (
            <Button
              small
              key={label}
              aria-label={`${label} ${sense < 0 ? 'earlier' : 'later'}`}
              onClick={() => nudge(take, sense * frames)}
            >
              {sense < 0 ? '−' : '+'}
              {label}
            </Button>
          ))}
        </div>
      ))}
      <p className="take-place-hint" id={hint}>
        Behind it the lanes show {hasGuide ? 'the guide' : 'another voice'} in grey. Keys in a lane: {nudgeKeyWords}.
      </p>
    </fieldset>
  );
}

/** "begins at −2.7368 s, moved by +1.00 ms"; nothing where it is not placed. */
function placeInWords({ placement }: Take): string {
  if (placement === null) return '';
  const found = placement.by === 'user' ? foundOffsetSec(placement) : undefined;
  const movedMs = found === undefined ? 0 : 1000 * (placement.offsetSec - found);
  const moved = Math.abs(movedMs) < 0.01 ? '' : `, moved by ${change(movedMs, 2)} ms`;
  return `begins at ${figure(placement.offsetSec, 4)} s${moved}`;
}
