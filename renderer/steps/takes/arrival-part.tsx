import { useMemo, useState } from 'react';
import { edit, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Note } from '../../parts/note.tsx';
import { readNumber } from '../../parts/read-number.ts';
import { useArrival } from './arrival.ts';
import { type GroupRule, groupNames, groupsOf, regroupEdit } from './regroup.ts';
import './arrival-part.css';

const MOST_EACH = 50;
const NOBODY: readonly string[] = [];

/** When several clips came in at once: which went to which voice, and other ways to part them. */
export function ArrivalPart() {
  const { session, folder } = useView();
  const arrived = useArrival((state) => (state.folder === folder ? state.takeIds : NOBODY));
  const [rule, setRule] = useState<GroupRule>('name');
  const [each, setEach] = useState('2');
  const takeIds = useMemo(
    () => arrived.filter((id) => session.takes.some((take) => take.id === id)),
    [arrived, session.takes],
  );
  if (takeIds.length < 2) return null;
  const groups = groupsOf(session, takeIds, rule, readNumber(each, 1, MOST_EACH) ?? 1);
  const names = groupNames(session, groups);
  const takeName = new Map(session.takes.map(({ id, name }) => [id, name]));
  const close = (): void => {
    useArrival.setState({ takeIds: NOBODY });
    setRule('name');
  };
  const use = (): void => {
    const change = regroupEdit(
      session,
      groups,
      groups.map(() => `voice-${crypto.randomUUID().slice(0, 8)}`),
    );
    if (change !== undefined) edit(change);
    close();
  };
  return (
    <section className="arrival" aria-label="Which clips are of which voice">
      <Note
        title={`${takeIds.length} clips came in.`}
        actions={
          <Button small kind="main" onClick={use}>
            {rule === 'name' ? 'That is right' : 'Use this'}
          </Button>
        }
      >
        Which of them are takes of one voice? A single take can be given to another voice under “More”.
      </Note>
      <div className="arrival-rule">
        <Choice<GroupRule>
          label="How clips are given to voices"
          value={rule}
          options={[
            { value: 'name', label: 'by name' },
            { value: 'order', label: 'by order' },
            { value: 'clip', label: 'a voice each' },
          ]}
          onChange={setRule}
        />
        {rule === 'order' && (
          <label className="arrival-each">
            <input
              type="text"
              inputMode="numeric"
              value={each}
              aria-label="Clips in a row that are takes of one voice"
              onChange={(event) => setEach(event.target.value)}
            />{' '}
            clips in a row are takes of one voice
          </label>
        )}
      </div>
      <ol className="arrival-list">
        {groups.map((group, n) => (
          <li key={group[0]}>
            <strong className="arrival-voice">{names[n]}</strong>
            <span>{group.map((id) => takeName.get(id)).join(', ')}</span>
          </li>
        ))}
      </ol>
    </section>
  );
}
