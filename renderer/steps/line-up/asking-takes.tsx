import { takeInHand } from '../../desk/bench-store.ts';
import { useView } from '../../desk/desk-store.ts';
import { isHeard } from '../../lanes/lane-parts.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { takesInOrder } from '../drawing/take-at-hand.ts';
import { acceptEdit } from './placement-edits.ts';

/** So many takes are named; of the others there is only the number. */
const MOST_NAMED = 4;

/** The other takes that are heard and whose place is a question, to be taken to hand: in a long table one would have to look for them. */
export function AskingTakes({ takeId }: { readonly takeId: string }) {
  const { session } = useView();
  const asking = takesInOrder(session).filter(
    ({ take, voice }) => take.id !== takeId && isHeard(session, voice, take) && acceptEdit(take) !== undefined,
  );
  if (asking.length === 0) return null;
  const left = asking.length - MOST_NAMED;
  return (
    <section className="asking-takes" aria-label="Takes whose place is a question">
      <Note
        kind="look"
        actions={asking.slice(0, MOST_NAMED).map(({ take, voice }) => (
          <Button small key={take.id} onClick={() => takeInHand(voice.id, take.id)}>
            Look at {take.name}
          </Button>
        ))}
      >
        {asking.length === 1 ? 'One take asks' : `${asking.length} takes ask`} you something about{' '}
        {asking.length === 1 ? 'its' : 'their'} place.
        {left > 0 ? ` ${left} more have the sign in the table.` : ''}
      </Note>
    </section>
  );
}
