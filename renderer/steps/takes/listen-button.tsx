import { useEffect, useRef } from 'react';
import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take } from '../../../core/session/schema.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { takeInHand } from '../../desk/bench-store.ts';
import { Button } from '../../parts/button.tsx';
import { usePlayback } from '../../playback/player.ts';
import { thePlayer } from '../../playback/the-player.ts';

/** So much before the first note, s. */
const LEAD_SEC = 0.5;

/** Hears one take alone, as it was recorded, from where its music begins; pressed again it stops. */
export function ListenButton({ take, facts }: { take: Take; facts: TakeFacts | undefined }) {
  const isHeard = usePlayback((state) => state.playing && state.audition?.takeId === take.id && state.audition.onlyIt);
  const canPlay = facts?.playable === true;
  const wasHeard = useRef(false);
  useEffect(() => {
    // Whatever ended it, what is played next is the whole again, and not this take alone without a word.
    if (wasHeard.current && !isHeard && isAlone(take.id)) thePlayer().setAudition(null);
    wasHeard.current = isHeard;
  }, [isHeard, take.id]);
  useEffect(
    () => () => {
      if (isAlone(take.id)) thePlayer().setAudition(null);
    },
    [take.id],
  );
  const press = (): void => {
    const player = thePlayer();
    if (isHeard) {
      player.pause();
      return;
    }
    takeInHand(take.voiceId, take.id);
    const beginsSec = facts?.music?.fromSec ?? take.placement?.offsetSec ?? 0;
    player.setAudition({ takeId: take.id, listen: 'before', onlyIt: true });
    player.seek(Math.round(Math.max(0, beginsSec - LEAD_SEC) * SESSION_RATE_HZ));
    void player.play();
  };
  return (
    <Button
      small
      disabled={!canPlay}
      aria-pressed={isHeard}
      aria-label={isHeard ? `Stop ${take.name}` : `Listen to ${take.name} alone`}
      title={
        canPlay
          ? 'Hear it alone, as it was recorded'
          : 'It can be heard when it has been read and laid on the time line'
      }
      onClick={press}
    >
      {isHeard ? 'Stop' : 'Listen'}
    </Button>
  );
}

function isAlone(takeId: string): boolean {
  const { audition } = usePlayback.getState();
  return audition?.takeId === takeId && audition.onlyIt;
}
