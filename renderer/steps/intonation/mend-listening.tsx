import { useEffect } from 'react';
import type { Take } from '../../../core/session/schema.ts';
import { useBench } from '../../desk/bench-store.ts';
import { useTakeFacts } from '../../desk/desk-store.ts';
import { playStretch } from '../../lanes/play-stretch.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { usePlayback } from '../../playback/playback-state.ts';
import { thePlayer } from '../../playback/the-player.ts';

/** The take before and after mending, alone or in the mix. Works while it plays. */
export function MendListening({ take }: { readonly take: Take }) {
  const takeId = take.id;
  const facts = useTakeFacts(takeId);
  const audition = usePlayback((state) => state.audition);
  const stretch = useBench((state) => state.stretch);
  const isBefore = audition?.takeId === takeId && audition.listen === 'before';
  const onlyIt = audition?.onlyIt ?? false;
  const isMended = facts !== undefined && facts.mended !== 'none';
  const hear = (listen: 'before' | 'after', alone: boolean): void =>
    thePlayer().setAudition(listen === 'after' && !alone ? null : { takeId, listen, onlyIt: alone, unmended: true });
  useEffect(() => {
    // Another take in hand is heard as the one before it was.
    const now = usePlayback.getState().audition;
    if (now !== null && now.takeId !== takeId) thePlayer().setAudition({ ...now, takeId });
  }, [takeId]);
  useEffect(() => {
    // Where nothing is mended, before is what is heard anyway.
    const now = usePlayback.getState().audition;
    if (!isMended && now?.listen === 'before') thePlayer().setAudition(now.onlyIt ? { ...now, listen: 'after' } : null);
  }, [isMended]);
  useEffect(() => () => thePlayer().setAudition(null), []);
  return (
    <div className="mend-listening">
      <Choice<'before' | 'after'>
        label="Hear it"
        value={isBefore ? 'before' : 'after'}
        onChange={(wanted) => hear(wanted, onlyIt)}
        options={[
          { value: 'before', label: 'before mending', disabled: !isMended },
          { value: 'after', label: 'after' },
        ]}
      />
      <label className="tick">
        <input
          type="checkbox"
          checked={onlyIt}
          onChange={(event) => hear(isBefore ? 'before' : 'after', event.target.checked)}
        />
        heard alone
      </label>
      {stretch !== null && (
        <Button small onClick={() => playStretch(stretch)}>
          Listen to the selected stretch
        </Button>
      )}
    </div>
  );
}
