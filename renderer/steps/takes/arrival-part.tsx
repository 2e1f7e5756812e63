import { useMemo } from 'react';
import type { Session } from '../../../core/session/schema.ts';
import { edit, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Note } from '../../parts/note.tsx';
import { readNumber } from '../../parts/read-number.ts';
import { endArrival, useArrival } from './arrival.ts';
import { ArrivalByHand } from './arrival-by-hand.tsx';
import { type Group, type GroupRule, groupNames, groupsOf, regroupEdit } from './regroup.ts';
import './arrival-part.css';

const MOST_EACH = 50;
const USUAL_EACH = 2;
const NOBODY: readonly string[] = [];

/** Whoever asked for it, or had the focus on what gave way to it, goes on here. */
function takeFocus(part: HTMLElement | null): void {
  const { activeElement } = document;
  if (activeElement === null || activeElement === document.body || activeElement.matches(':disabled')) part?.focus();
}

/** When several clips came in at once, or when asked for: which is of which voice, and other ways to part them. */
export function ArrivalPart() {
  const { session, folder } = useView();
  const { isAsked, takeIds: all, folder: theirs, rule, each, byHand } = useArrival();
  const arrived = theirs === folder ? all : NOBODY;
  const takeIds = useMemo(
    () => arrived.filter((id) => session.takes.some((take) => take.id === id)),
    [arrived, session.takes],
  );
  if (takeIds.length < 2) return null;
  const usual = usualEach(session, takeIds.length);
  const groups = groupsOf(session, takeIds, rule, readNumber(each ?? '', 1, MOST_EACH) ?? usual, byHand);
  const use = (): void => {
    const change = regroupEdit(
      session,
      groups,
      groups.map(() => `voice-${crypto.randomUUID().slice(0, 8)}`),
    );
    if (change !== undefined) edit(change);
    endArrival();
  };
  return (
    <section className="arrival" aria-label="Which clips are of which voice" tabIndex={-1} ref={takeFocus}>
      <Note
        title={isAsked ? 'Which clips are of which voice?' : `${takeIds.length} clips came in.`}
        actions={
          <>
            <Button small kind="main" onClick={use}>
              {rule === 'name' ? 'That is right' : 'Use this'}
            </Button>
            {rule !== 'name' && (
              <Button small onClick={endArrival}>
                Leave them as they are
              </Button>
            )}
          </>
        }
      >
        Which of them are takes of one voice? Where names do not tell, go by the order they were recorded in, or listen
        and choose by hand.
      </Note>
      <div className="arrival-rule">
        <Choice<GroupRule>
          label="How clips are given to voices"
          value={rule}
          options={[
            { value: 'name', label: isAsked ? 'as they are' : 'by name' },
            { value: 'order', label: 'by order' },
            { value: 'hand', label: 'by hand' },
            { value: 'clip', label: 'a voice each' },
          ]}
          onChange={(wanted) => useArrival.setState({ rule: wanted })}
        />
        {rule === 'order' && (
          <label className="arrival-each">
            <input
              type="text"
              inputMode="numeric"
              value={each ?? String(usual)}
              aria-label="Clips in a row that are takes of one voice"
              onChange={(event) => useArrival.setState({ each: event.target.value })}
            />{' '}
            clips in a row are takes of one voice
          </label>
        )}
      </div>
      {rule === 'hand' ? (
        <ArrivalByHand
          session={session}
          takeIds={takeIds}
          byHand={byHand}
          onChange={(chosen) => useArrival.setState({ byHand: chosen })}
        />
      ) : (
        <GroupList session={session} groups={groups} />
      )}
    </section>
  );
}

/** So many takes of each voice as there are clips for each that waits; two where that does not come out even. */
function usualEach(session: Session, clips: number): number {
  const waiting = session.voices.filter(({ id }) => session.takes.every(({ voiceId }) => voiceId !== id)).length;
  return waiting > 0 && clips % waiting === 0 ? clips / waiting : USUAL_EACH;
}

function GroupList({ session, groups }: { readonly session: Session; readonly groups: readonly Group[] }) {
  const names = groupNames(session, groups);
  const takeName = new Map(session.takes.map(({ id, name }) => [id, name]));
  return (
    <ol className="arrival-list">
      {groups.map(({ takeIds }, n) => (
        <li key={takeIds[0]}>
          <strong className="arrival-voice">{names[n]}</strong>
          <span>{takeIds.map((id) => takeName.get(id)).join(', ')}</span>
        </li>
      ))}
    </ol>
  );
}
