import { useState } from 'react';
import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take } from '../../../core/session/schema.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { edit } from '../../desk/desk-store.ts';
import { playbackFrame } from '../../lanes/the-player.ts';
import { lookAt, useGlass } from './glass-store.ts';
import { pinOutcome } from './placement-edits.ts';

/** A take under the glass, which lies elsewhere than it is placed until it is pinned or let go. */
export interface HeldTake {
  readonly take: Take;
  /** Session time of the moment under the line. */
  readonly atSec: number;
  /** How much later than its place it is held, whole samples. */
  readonly shiftSec: number;
  /** Why it could not be pinned; null when it was, or was not tried. */
  readonly reason: string | null;
  readonly hold: (shiftSec: number) => void;
  readonly look: (atSec: number) => void;
  readonly pin: () => void;
}

/** A take as it is held under the glass. */
export function useHeldTake(take: Take, facts: TakeFacts | undefined): HeldTake {
  const glass = useGlass();
  const [first] = useState(() => firstMoment(take, facts, playbackFrame() / SESSION_RATE_HZ));
  const [reason, setReason] = useState<string | null>(null);
  const isMine = glass.takeId === take.id;
  const atSec = (isMine ? glass.atSec : null) ?? first;
  const shiftSec = isMine ? glass.shiftSec : 0;
  const hold = (sec: number): void => {
    setReason(null);
    useGlass.setState({ takeId: take.id, atSec, shiftSec: Math.round(sec * SESSION_RATE_HZ) / SESSION_RATE_HZ });
  };
  const look = (sec: number): void => {
    setReason(null);
    useGlass.setState({ takeId: take.id, atSec: sec, shiftSec });
  };
  const pin = (): void => {
    const outcome = pinOutcome(take, atSec, shiftSec);
    if ('reason' in outcome) {
      setReason(outcome.reason);
      return;
    }
    edit(outcome.edit);
    lookAt(take.id, atSec);
    setReason(null);
  };
  return { take, atSec, shiftSec, reason, hold, look, pin };
}

/**
 * What lies under the glass at first: where the playback line stands; while it stands at the beginning the take's clap, else where its
 * music begins, since before it there is nothing to be seen.
 */
function firstMoment(take: Take, facts: TakeFacts | undefined, playbackSec: number): number {
  if (playbackSec > 0) return playbackSec;
  const clap = take.placement?.evidence.find((one) => one.kind === 'clap' && one.accepted);
  return clap?.atSec ?? facts?.music?.fromSec ?? playbackSec;
}
