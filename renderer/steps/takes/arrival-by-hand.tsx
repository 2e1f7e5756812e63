import type { Session } from '../../../core/session/schema.ts';
import { useView } from '../../desk/desk-store.ts';
import { ListenButton } from './listen-button.tsx';
import type { ByHand } from './regroup.ts';

/** In a list of voices the choice of a new one; no voice has an empty id. */
const OWN = '';

export interface ArrivalByHandProps {
  readonly session: Session;
  readonly takeIds: readonly string[];
  readonly byHand: ByHand;
  readonly onChange: (byHand: ByHand) => void;
}

/** Clip by clip: hear it, and say which voice it is. */
export function ArrivalByHand({ session, takeIds, byHand, onChange }: ArrivalByHandProps) {
  const { takes: facts } = useView();
  return (
    <ol className="arrival-list arrival-by-hand">
      {takeIds.flatMap((id) => {
        const take = session.takes.find((one) => one.id === id);
        if (take === undefined) return [];
        const chosen = byHand[id];
        return [
          <li key={id}>
            <span className="arrival-clip">{take.name}</span>
            <ListenButton take={take} facts={facts[id]} />
            <select
              aria-label={`Voice of ${take.name}`}
              value={chosen === undefined ? take.voiceId : (chosen ?? OWN)}
              onChange={({ target }) => onChange({ ...byHand, [id]: target.value === OWN ? null : target.value })}
            >
              {session.voices.map((voice) => (
                <option key={voice.id} value={voice.id}>
                  {voice.name}
                </option>
              ))}
              <option value={OWN}>a voice of its own</option>
            </select>
          </li>,
        ];
      })}
    </ol>
  );
}
