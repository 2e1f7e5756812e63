import { useEffect } from 'react';
import type { Listen, TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { usePlayback } from '../../playback/playback-state.ts';
import { thePlayer } from '../../playback/the-player.ts';
import './listening.css';

/** Which sound of the take in hand is heard: before, after, or what was taken away; alone or in the mix. Works while it plays. */
export function Listening({ facts }: { readonly facts: TakeFacts }) {
  const { takeId } = facts;
  const audition = usePlayback((state) => state.audition);
  const listen = audition?.takeId === takeId ? audition.listen : 'after';
  const onlyIt = audition?.onlyIt ?? false;
  const isCleaned = facts.clean.state !== 'off' && facts.clean.state !== 'unfit';
  const hear = (wanted: Listen, alone: boolean): void =>
    thePlayer().setAudition(wanted === 'after' && !alone ? null : { takeId, listen: wanted, onlyIt: alone });
  useEffect(() => {
    // Another take in hand is heard as the one before it was.
    const now = usePlayback.getState().audition;
    if (now !== null && now.takeId !== takeId) thePlayer().setAudition({ ...now, takeId });
  }, [takeId]);
  useEffect(() => () => thePlayer().setAudition(null), []);
  return (
    <div className="listening">
      <Choice<Listen>
        label={<Explain word="takenAway">Hear it</Explain>}
        value={listen}
        onChange={(wanted) => hear(wanted, onlyIt)}
        options={[
          { value: 'before', label: 'before' },
          { value: 'after', label: 'after' },
          { value: 'takenAway', label: 'taken away', disabled: !isCleaned },
        ]}
      />
      <label className="tick">
        <input type="checkbox" checked={onlyIt} onChange={(event) => hear(listen, event.target.checked)} />
        heard alone
      </label>
    </div>
  );
}
