import type { Take } from '../../../core/session/schema.ts';
import { ask, edit, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { figure } from '../../parts/numbers.ts';
import { acceptEdit, backEdit, layEdit, nudgeEdit, nudges } from './placement-edits.ts';
import { isUnknown } from './placement-words.ts';
import './take-place.css';

/** What can be done with the place of the take in hand: answer its question, move it, ask again. */
export function TakePlace({ take }: { readonly take: Take }) {
  const { jobs } = useView();
  const { placement } = take;
  const accept = acceptEdit(take);
  const back = backEdit(take);
  const busy = jobs.some((job) => job.kind === 'lineUp');
  const askAgain = (takeIds: string[]): void => {
    if (takeIds.length > 0 && placement?.by === 'user') {
      edit({ kind: 'setPlacement', takeId: take.id, placement: { ...placement, by: 'found' } });
    }
    void ask((bridge) => bridge.calls.lineUpAgain({ takeIds }));
  };
  return (
    <section className="take-place" aria-labelledby="take-place-title">
      <h3 id="take-place-title">{take.name}</h3>
      {placement?.question == null ? null : (
        <div className="take-place-question">
          <p>
            <strong>Look here:</strong> {placement.question}
          </p>
          <div className="take-place-buttons">
            <Button small onClick={() => accept !== undefined && edit(accept)} disabled={isUnknown(placement)}>
              It lies right
            </Button>
            {isUnknown(placement) ? (
              <Button small onClick={() => edit(layEdit(take, 0))}>
                Lay it at the beginning
              </Button>
            ) : null}
          </div>
        </div>
      )}
      <fieldset className="take-place-nudge">
        <legend>Move it {placement === null ? '' : `(begins at ${figure(placement.offsetSec, 4)} s)`}</legend>
        <span>earlier</span>
        {nudges.map((nudge) => (
          <Button
            small
            key={`${nudge.sense}${nudge.words}`}
            aria-label={`${nudge.words} ${nudge.sense}`}
            onClick={() => edit(nudgeEdit(take, nudge.sec), `nudge:${take.id}`)}
          >
            {nudge.sec < 0 ? '−' : '+'}
            {nudge.words}
          </Button>
        ))}
        <span>later</span>
      </fieldset>
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
